import json
import math

from topo.report.envelope import as_json, schema


def test_what_is_not_a_number_comes_out_as_null():
    assert json.loads(as_json({"volts": [math.nan, math.inf, 1.5]})) == {"volts": [None, None, 1.5]}


def test_keys_keep_their_order():
    assert as_json({"b": 1, "a": 2}).index('"b"') < as_json({"b": 1, "a": 2}).index('"a"')


def test_numbers_of_numpy_come_out_plain():
    import numpy

    assert json.loads(as_json({"x": numpy.float64(2.5), "n": numpy.int64(3)})) == {"x": 2.5, "n": 3}


def test_the_schema_is_a_schema():
    from jsonschema import Draft202012Validator

    Draft202012Validator.check_schema(schema())


def test_the_schema_asks_for_every_key_of_the_envelope():
    wanted = {
        "circuit", "summary", "blocks", "path", "class", "operating_point", "bias_trimmers", "ledger",
        "not_recognised", "near_misses", "assumptions", "warnings", "cautions",
    }  # fmt: skip

    assert wanted <= set(schema()["required"])

from topo.report.markdown import quoted


def test_signs_that_a_user_typed_have_no_meaning_in_markdown():
    assert quoted("*a* [b](c) <script> `d` | # _e_ ~") == "\\*a\\* \\[b\\](c) \\<script\\> \\`d\\` \\| \\# \\_e\\_ \\~"

"""The circuit of a sheet: parts drafted line by line, blocks put in their places, nets joined and named."""

from __future__ import annotations

from dataclasses import dataclass, replace

from topo.errors import NetlistError
from topo.netlist.blocks import nets_of_use
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.netlist.kinds import KIND_OF_WORD, Kind, letters_of
from topo.netlist.marks import Marks
from topo.netlist.nets import Nets
from topo.netlist.problems import Problems
from topo.netlist.sheet import Block, Sheet, Sorter
from topo.netlist.spelling import did_you_mean
from topo.netlist.statements import Said, take_statements
from topo.netlist.syntax import PartLine, Statement, Word
from topo.netlist.what import Nature, Reader
from topo.netlist.where import Connector, Where, named, terminals_of

MOST_PARTS = 200_000
DEEPEST = 20
# Nets without a part come after the others, those of supplies first.
_NET_ORDER = {"supply": 1, "input": 2, "output": 3}
GROUND_NAMES = ("gnd", "ground", "earth", "0")


@dataclass
class Scope:
    """Where a line stands: the prefix of its names (`A1.`), the outer nets of its block's list, how deep."""

    prefix: str = ""
    ports: frozenset[str] = frozenset()
    blocks: tuple[str, ...] = ()
    section: str | None = None


@dataclass
class Draft:
    """A part whose nets are not yet known; `joints` maps its case-folded terminal names to (name, net number)."""

    ref: str
    line: PartLine
    nature: Nature
    where: Where
    scope: Scope
    joints: dict[str, tuple[str, int]]


class Drafter:
    """Makes the circuit of one text."""

    def __init__(self, text: str, file: str) -> None:
        self.problems = Problems()
        self.marks = Marks(self.problems)
        self.nets = Nets()
        self.sheet: Sheet = Sorter(self.problems, self.marks, file).sort(text)
        self.drafts: dict[str, Draft] = {}
        self.broken: set[str] = set()
        self.uses: set[str] = set()
        self.references: list[tuple[int, str, PartLine | Statement, Word]] = []
        self.understood: dict[int, tuple[Nature, Where] | None] = {}
        self.natures: dict[tuple, tuple[Nature, Kind | None, float, int, bool]] = {}
        self.refs_in: dict[str, set[str]] = {}
        self.first_line: dict[str, int] = {}
        self.placed: set[str] = set()
        self.count = 0
        self.said = Said()
        self.designators = self._designators()
        self.global_names = self._global_names()

    # -- names that are known before any net is ----------------------------------------------------------------------

    def _designators(self) -> set[str]:
        """The case-folded designators of the lines outside blocks; those inside are found by their block's use."""
        return {row.ref.text.casefold() for row, _ in self.sheet.rows if isinstance(row, PartLine)}

    def _global_names(self) -> frozenset[str]:
        """Names that mean the same inside blocks: ground and the supply rails."""
        names = set(GROUND_NAMES)
        for statement, _ in self.sheet.statements:
            name = statement.words[0].text.casefold() if statement.words else ""
            if statement.keyword in ("ground", "supply") and not self._is_reference(name, Scope()):
                names.add(name)
        return frozenset(names)

    def _own_ground(self) -> str | None:
        """The ground's name by a `ground` line, if it is none of the four usual names."""
        for statement, _ in self.sheet.statements:
            if statement.keyword == "ground" and statement.words[0].text.casefold() not in GROUND_NAMES:
                return statement.words[0].text.casefold()
        return None

    # -- the whole ---------------------------------------------------------------------------------------------------

    def circuit(self) -> Circuit:
        """The circuit; NetlistError with every problem if there is an error among them."""
        self.own_ground = self._own_ground()
        scopes = {section: Scope(section=section) for section in (None, *self.sheet.sections)}
        statements = iter(self.sheet.statements)
        ahead = next(statements, None)
        for row, section in self.sheet.rows:
            while ahead is not None and ahead[0].line.number < row.line.number:
                self._mention(ahead[0])
                ahead = next(statements, None)
            self._place(row, scopes[section])
        while ahead is not None:
            self._mention(ahead[0])
            ahead = next(statements, None)
        self._resolve_references()
        self.marks.finish()
        take_statements(self)
        if self.problems.failed:
            raise NetlistError(self.problems.in_order())
        return self._assemble()

    def _mention(self, statement: Statement) -> None:
        """Note the nets that a statement names, so that the first spelling is the one shown."""
        keyword, words = statement.keyword, statement.words
        if keyword in ("supply", "ground"):
            words = words[:1]
        elif keyword not in ("input", "output"):
            return
        self.said.nets[id(statement)] = [self.net(word, statement, Scope()) for word in words]

    # -- nets --------------------------------------------------------------------------------------------------------

    def net(self, word: Word, row: PartLine | Statement, scope: Scope, own: str = "") -> int:
        """The number of the net that a word names; `own` is the terminal (`Q1.c`) whose net is being said."""
        text, folded = word.text, word.text.casefold()
        if text == "-":
            if not own:
                self.problems.error("bad-net", row.line, word.start, 1)
            return self.nets.fresh(own or "-", row.line.place(word.start, 1))
        spelling, name = scope.prefix + text, scope.prefix.casefold() + folded
        if folded not in scope.ports:
            if folded in GROUND_NAMES and self.own_ground is None:
                spelling, name = text, "gnd"
            elif folded in self.global_names:
                spelling, name = text, folded
            elif "." in folded and self._is_reference(folded, scope):
                number = self.nets.fresh(spelling, row.line.place(word.start, len(text)), referred=True)
                self.references.append((number, name, row, word))
                return number
        found = self.nets.find(name)
        return self.nets.named(name, spelling, row.line.place(word.start, len(text))) if found is None else found

    def _is_reference(self, folded: str, scope: Scope) -> bool:
        """Whether what stands before a dot is a designator where the word stands."""
        known = self._block_refs(scope.blocks[-1]) if scope.blocks else self.designators
        pieces = folded.split(".")
        return any(".".join(pieces[:end]) in known for end in range(1, len(pieces)))

    def _block_refs(self, name: str) -> set[str]:
        """The case-folded designators of a block's own lines."""
        known = self.refs_in.get(name)
        if known is None:
            rows = self.sheet.blocks[name].rows
            known = self.refs_in[name] = {row.ref.text.casefold() for row in rows if isinstance(row, PartLine)}
        return known

    def _resolve_references(self) -> None:
        """Join each `REF.terminal` with the net of that terminal."""
        for number, folded, row, word in self.references:
            pieces = folded.split(".")
            for end in range(len(pieces) - 1, 0, -1):
                ref, terminal = ".".join(pieces[:end]), ".".join(pieces[end:])
                if ref in self.broken:
                    break
                if (draft := self.drafts.get(ref)) is not None:
                    self._refer(number, draft, terminal, row, word)
                    break
                if ref in self.uses:
                    self._refer_inside(number, folded, row, word)
                    break

    def _refer_inside(self, number: int, folded: str, row: PartLine | Statement, word: Word) -> None:
        """Join a reference with an inner net of a block: `A1.mid`."""
        found = self.nets.find(folded)
        if found is not None:
            self.nets.join(number, found)
            return
        ref, _, name = word.text.rpartition(".")
        words = {"kind": ref, "name": name, "expected": "a net of its block, or a part and its terminal"}
        self.problems.error("no-such-terminal", row.line, word.start, len(word.text), **words, near="")

    def _refer(self, number: int, draft: Draft, terminal: str, row: PartLine | Statement, word: Word) -> None:
        """Join a reference with a terminal of a part."""
        _, others = terminals_of(draft.nature)
        wanted = {other.casefold(): name.casefold() for other, name in others.items()}.get(terminal, terminal)
        found = draft.joints.get(wanted) or draft.joints.get(terminal)
        if found is None and draft.nature.kind.name in ("inductor", "choke", "bead") and terminal.startswith("w1."):
            found = draft.joints.get(terminal[3:])
        if found is not None:
            self.nets.join(number, found[1])
            return
        names = [name for name, _ in draft.joints.values()]
        near = did_you_mean(terminal, names)
        words = {
            "kind": f"{draft.ref} ({named(draft.nature)})",
            "name": terminal,
            "expected": f"one of {' '.join(names)}",
        }
        self.problems.error("no-such-terminal", row.line, word.start, len(word.text), **words, near=near)

    # -- parts and blocks --------------------------------------------------------------------------------------------

    def _place(self, row: PartLine | Statement, scope: Scope) -> None:
        """Put a line's part, or the parts of the block that it uses, into the circuit."""
        if isinstance(row, Statement):
            first, *others = [self.net(word, row, scope) for word in row.words]
            for other in others:
                self.nets.join(first, other)
            return
        ref = scope.prefix + row.ref.text
        folded = ref.casefold()
        self.count += 1
        if self.count > MOST_PARTS:
            self.problems.error("too-many-parts", row.line, row.ref.start, len(row.ref.text), most=MOST_PARTS)
            return
        before = self.first_line.setdefault(folded, row.line.number)
        if folded in self.placed:
            words = {"ref": ref, "line": before, "mend": self._free_designator(ref)}
            self.problems.error("ref-twice", row.line, row.ref.start, len(row.ref.text), **words)
            return
        self.placed.add(folded)
        block = self._block_of(row)
        if block is not None:
            self._use(row, ref, block, scope)
            return
        understood = self._understand(row)
        if understood is None:
            self.broken.add(folded)
            return
        nature, where = understood
        joints = {
            joint.name.casefold(): (joint.name, self.net(joint.net, row, scope, f"{ref}.{joint.name}"))
            for joint in where.joints
        }
        self.drafts[folded] = Draft(ref, row, nature, where, scope, joints)

    def _understand(self, row: PartLine) -> tuple[Nature, Where] | None:
        """What and where of a line, worked out once however often its block is used."""
        if id(row) not in self.understood:
            if self._names_no_block(row):
                self.understood[id(row)] = None
                return None
            nature = self._nature(row)
            where = Connector(row, nature, self.problems).connect() if nature is not None else None
            self.understood[id(row)] = None if nature is None or where is None else (nature, where)
        return self.understood[id(row)]

    def _nature(self, row: PartLine) -> Nature | None:
        """What a part is. Lines that say the same of parts of the same letters are read once, if there is nothing to
        tell of them; what is asked of their values is asked of each."""
        what, marks = row.what, self.marks
        settings = tuple([(name.text, value.text) for name, value in what.settings])
        key = (letters_of(row.ref.text), tuple([word.text for word in what.words]), settings, len(row.groups) > 1)
        kept = self.natures.get(key)
        if kept is not None:
            nature, kind, value, place, polarised = kept
            if kind is not None:
                marks.look(kind, value, what.words[place], row.line, polarised)
            return nature
        before = len(self.problems)
        reader = Reader(row.line, self.problems, self.sheet.types, marks)
        found = reader.read(what, row.ref, barred=key[3])
        if found is not None and found.ratio_word is None and len(self.problems) == before:
            if reader.looked is None:
                self.natures[key] = (found, None, 0.0, 0, False)
            else:
                kind, value, word, polarised = reader.looked
                self.natures[key] = (found, kind, value, what.words.index(word), polarised)
        return found

    def _names_no_block(self, row: PartLine) -> bool:
        """Whether a line is meant to use a block that is not there, which is then said."""
        word = row.what.words[0] if row.what.words else None
        if word is None or letters_of(row.ref.text) != "A":
            return False
        if any(
            item.text.casefold() in KIND_OF_WORD or item.text.casefold() in self.sheet.types for item in row.what.words
        ):
            return False
        near = did_you_mean(word.text, [block.name.text for block in self.sheet.blocks.values()])
        self.problems.error("unknown-block", row.line, word.start, len(word.text), name=word.text, near=near)
        return True

    def _free_designator(self, ref: str) -> str:
        """A mend for a designator used twice: the next one that is free."""
        letters = ref.rstrip("0123456789")
        number = int(ref[len(letters) :] or "0")
        while (free := f"{letters}{number}".casefold()) in self.placed or free in self.designators:
            number += 1
        return f"Free is {letters}{number}, for example."

    def _block_of(self, row: PartLine) -> Block | None:
        """The block that a part line uses, if it uses one."""
        if len(row.what.words) == 1 and not row.what.settings:
            return self.sheet.blocks.get(row.what.words[0].text.casefold())
        return None

    def _use(self, row: PartLine, ref: str, block: Block, scope: Scope) -> None:
        """Put the parts of a block into the circuit, its nets joined with those of the line that uses it."""
        name = block.name.text.casefold()
        word = row.what.words[0]
        self.uses.add(ref.casefold())
        if name in scope.blocks:
            self.problems.error("block-recursion", row.line, word.start, len(word.text), name=word.text)
            return
        if len(scope.blocks) >= DEEPEST:
            self.problems.error("block-deep", row.line, word.start, len(word.text), most=DEEPEST)
            return
        nets = nets_of_use(row, block, self.problems)
        if nets is None:
            self.broken.add(ref.casefold())
            return
        outer = [self.net(net, row, scope, f"{ref}.{port.text}") for port, net in zip(block.nets, nets, strict=True)]
        ports = frozenset(port.text.casefold() for port in block.nets)
        inner = Scope(f"{ref}.", ports, (*scope.blocks, name), scope.section)
        for port, number in zip(block.nets, outer, strict=True):
            place = block.line.place(port.start, len(port.text))
            folded = f"{ref}.{port.text}"
            self.nets.join(number, self.nets.named(folded.casefold(), folded, place))
        for item in block.rows:
            self._place(item, inner)

    # -- the result --------------------------------------------------------------------------------------------------

    def _assemble(self) -> Circuit:
        """The circuit of what was drafted and said."""
        nets, said = self.nets, self.said
        order: dict[str, int] = {}
        parts = []
        for draft in self.drafts.values():
            part = self._part(draft)
            parts.append(part)
            for _, number in draft.joints.values():
                order.setdefault(nets.shown(number), number)
        spoken = sorted(self.sheet.statements, key=lambda item: _NET_ORDER.get(item[0].keyword, 0))
        for statement, _ in spoken:
            for number in said.nets.get(id(statement), ()):
                if nets.shown(number) != said.ground:
                    order.setdefault(nets.shown(number), number)
        circuit = Circuit(
            title=said.title,
            parts=tuple(parts),
            nets=tuple(order),
            supplies=tuple(said.supplies),
            ground=said.ground,
            inputs=tuple(said.inputs),
            outputs=tuple(said.outputs),
            bands=said.bands,
            band_assumed=said.band_assumed,
            temperature=said.temperature,
            notes=tuple(said.notes),
            sections=tuple(self.sheet.sections),
            aliases=nets.aliases(order.values()),
            net_places={name: nets.place(number) for name, number in order.items()},
            lines={number: raw for row, _ in self.sheet.statements for _, number, raw in row.line.pieces},
            file=self.sheet.file,
        )
        from topo.netlist.checks import check

        return replace(circuit, warnings=(*self.problems.in_order(), *check(circuit)))

    def _part(self, draft: Draft) -> Part:
        """The part of a draft, its nets known."""
        line, nature = draft.line.line, draft.nature
        words = {joint.name: joint.net for joint in draft.where.joints}
        terminals = tuple(
            Terminal(name, self.nets.shown(number), line.place(words[name].start, len(words[name].text)))
            for name, number in draft.joints.values()
        )
        return Part(
            ref=draft.ref,
            kind=nature.kind.name,
            terminals=terminals,
            value=nature.value,
            value_text=nature.value_text,
            type_name=nature.type_name,
            params=nature.params,
            settings=nature.settings,
            ratings=nature.ratings,
            windings=draft.where.windings,
            section=draft.scope.section,
            place=line.place(draft.line.ref.start, len(draft.line.ref.text)),
            source=line.source,
        )

"""A layout from a table of the configuration: the way to teach a device that no built-in layout fits.

    [layouts.old-indicator]
    pattern = '(?P<state>[HW]) +(?P<sign>[-+ ])(?P<value>[0-9]{6}) *(?P<unit>kg|lb)'
    tokens  = { stable = ["H"], moving = ["W"] }
    decimals = 1

Keys (all but `pattern` or `like` may be left out):

    pattern     regular expression for one whole frame; groups as in `layout`: value, sign, unit, check, covered,
                gross, net, tare, and any further one for a status
    like        name of a built-in layout to start from, instead of a pattern; the other keys then replace its own
    framing     auto, line, stx-etx, stx-etx:N, fixed:N, block, block:WORD (see `framing`)
    unit        kg, g, t or lb: what a frame without a unit means
    decimals    digits behind a decimal point that is not sent
    thousands   "," or ".": the mark that parts the thousands, as in 1,234.5
    tokens      { stable = […], moving = […], overload, underload, error, gross, net, tare, zero, not-zero, ignored }
                for every status group; or such a table for one group by its name: [layouts.NAME.tokens.GROUP]
    bits        [layouts.NAME.bits.GROUP] with moving = 3 and the like: the bit number of each meaning, bit 0 the
                lowest; and spelled = "byte" (the character's own bits) or "hex" (hexadecimal digits)
    blank_unit  "moving": the unit is left blank while the weight moves
    take        gross, net or tare: the number taken from a frame of several
    backwards   true: the last digit comes first, as in 5.21400 for 412.5
    checksum    { kind = "xor", spelled = "hex" or "byte", low_first, stx, etx }; kinds as in `checks`
    parity      even, odd, mark or space: seven data bits and parity, seen through a port set to eight

Every refusal is a LayoutError that names the key, says what is wrong, and what would be right.
"""

import difflib
import re
from collections.abc import Iterable, Mapping
from typing import Final, TypeVar, get_args

from neckyoke.protocols.checksums import CHECKS
from neckyoke.protocols.framing.framer import LayoutError, make_framer
from neckyoke.protocols.scale.layout import NUMBERS, SPECIAL, Bits, Checksum, Layout, Parity
from neckyoke.protocols.scale.patterns import nests_repetition
from neckyoke.protocols.scale.status import UNITS, Meaning

KEYS: Final = (
    "pattern", "like", "framing", "unit", "decimals", "tokens", "bits", "blank_unit", "take", "backwards", "checksum",
    "parity", "thousands",
)  # fmt: skip
_SELF_MARKING: Final = re.compile(r"\\?[^\w\s.+\-\[\]()*?{}|^$\\]|\\x02|[A-Za-z](?![?*+{|])")
"""How a pattern begins whose frames can be found without marks: with one byte that is no part of a number."""

Kind = TypeVar("Kind")


def layout_from_table(
    name: str,
    table: Mapping[str, object],
    built_in: Mapping[str, Layout] = {},  # never changed
) -> Layout:
    """Make a layout from its table.  `built_in` are those that `like` may name.  Raises LayoutError."""
    return _Table(f"layouts.{name}", table).layout(name, built_in)


def check_fixed(layout: Layout, framing: str) -> None:
    """Refuse frames of fixed length that could not be found again after a lost byte.  Raises LayoutError."""
    if framing.startswith("fixed") and not _SELF_MARKING.match(layout.pattern.pattern.decode("latin-1")):
        raise LayoutError(
            f"layouts.{layout.name}.framing: {framing} needs a pattern that begins with one fixed character found"
            " nowhere else in the frame, such as '=' or \\x02; without it a lost byte would shift every later digit"
        )


class _Table:
    """A table being read: takes values by key, and says where it is when one is wrong."""

    def __init__(self, where: str, table: Mapping[str, object]) -> None:
        self.where = where
        self.table = table

    def layout(self, name: str, built_in: Mapping[str, Layout]) -> Layout:
        """Read a whole layout."""
        self.known(KEYS)
        base = self._base(name, built_in)
        made = Layout(
            name,
            base.pattern,
            tokens=self._tokens(base),
            bits=self._bits(base),
            framing=self.get("framing", str, base.framing),
            unit=self.one_of("unit", sorted(UNITS)) or base.unit,
            decimals=self.get("decimals", int, base.decimals),
            blank_unit=Meaning(self.one_of("blank_unit", ["moving", "ignored"]) or base.blank_unit),
            thousands=self.one_of("thousands", [",", "."]) or base.thousands,
            take=self.one_of("take", NUMBERS) or base.take,
            backwards=self.get("backwards", bool, base.backwards),
            checksum=self._checksum(base),
            parity=self._parity(base),
            source="the user's own",
        )
        self._check(made)
        return made

    def _base(self, name: str, built_in: Mapping[str, Layout]) -> Layout:
        if ("pattern" in self.table) == ("like" in self.table):
            raise self.wrong("pattern", "a layout has either a pattern or like = the name of a built-in layout")
        if like := self.one_of("like", list(built_in)):
            return built_in[like]
        text = self.get("pattern", str, "")
        try:
            pattern = re.compile(text.encode("latin-1"))
        except (re.error, UnicodeEncodeError, OverflowError, RecursionError) as error:
            raise self.wrong("pattern", f"is no regular expression ({error}); test it on one frame") from error
        if nests_repetition(pattern):
            raise self.wrong(
                "pattern",
                "repeats what is itself repeated, as in ([0-9]+[.]?)+, which can take for ever on some lines;"
                " write it without the outer repetition, or with ++ inside, as in ([0-9]++[.]?)+",
            )
        return Layout(name, pattern)

    def _tokens(self, base: Layout) -> Mapping[str, Mapping[bytes, Meaning]]:
        if "tokens" not in self.table:
            return base.tokens
        tokens = self.sub("tokens")
        groups = {key: table for key, table in tokens.table.items() if isinstance(table, Mapping)}
        general = {key: words for key, words in tokens.table.items() if key not in groups}
        made = {"": _Table(tokens.where, general).words()}
        for group, table in groups.items():
            if group not in base.pattern.groupindex:
                raise tokens.wrong(group, f"the pattern has no group (?P<{group}>…)")
            made[group] = _Table(f"{tokens.where}.{group}", table).words()
        return made

    def words(self) -> dict[bytes, Meaning]:
        """Read { stable = ["ST"], … }."""
        self.known([meaning.value for meaning in Meaning])
        words: dict[bytes, Meaning] = {}
        for key, texts in self.table.items():
            listed = [texts] if isinstance(texts, str) else texts
            if not isinstance(listed, list) or not all(isinstance(text, str) for text in listed):
                raise self.wrong(key, 'write a list of texts, as in ["ST"]')
            for text in listed:
                raw = text.encode("latin-1", "replace")
                if words.setdefault(raw, Meaning(key)) is not Meaning(key):
                    raise self.wrong(key, f"{text!r} already means {words[raw].value}")
        return words

    def _bits(self, base: Layout) -> Mapping[str, Bits]:
        if "bits" not in self.table:
            return base.bits
        made = {}
        tables = self.sub("bits")
        for group in tables.table:
            if group not in base.pattern.groupindex:
                raise tables.wrong(group, f"the pattern has no group (?P<{group}>…)")
            table = tables.sub(group)
            table.known(["spelled", *(meaning.value for meaning in Meaning)])
            bits = {Meaning(key): table.get(key, int, 0) for key in table.table if key != "spelled"}
            for key, bit in bits.items():
                if not 0 <= bit <= 31:
                    raise table.wrong(key, "is a bit number: 0 for the lowest bit, 1 for the next, …")
            made[group] = Bits(bits, "hex" if table.one_of("spelled", ["byte", "hex"]) == "hex" else "byte")
        return made

    def _checksum(self, base: Layout) -> Checksum | None:
        if "checksum" not in self.table:
            return base.checksum
        table = self.sub("checksum")
        table.known(["kind", "spelled", "low_first", "stx", "etx"])
        kind = table.one_of("kind", list(CHECKS))
        if kind is None:
            raise table.wrong("kind", _list(CHECKS))
        return Checksum(
            kind,
            "byte" if table.one_of("spelled", ["hex", "byte"]) == "byte" else "hex",
            low_first=table.get("low_first", bool, default=False),
            stx=table.get("stx", bool, default=False),
            etx=table.get("etx", bool, default=False),
        )

    def _parity(self, base: Layout) -> Parity | None:
        return self.one_of("parity", get_args(Parity)) or base.parity  # type: ignore[return-value]  # one of them

    def _check(self, layout: Layout) -> None:
        """Check what several keys say together."""
        groups = layout.pattern.groupindex
        if "value" not in groups and layout.take not in groups:
            raise self.wrong("pattern", f"needs a group (?P<value>…) for the number, or (?P<{layout.take}>…)")
        if layout.checksum and "check" not in groups:
            raise self.wrong("checksum", "needs a group (?P<check>…) in the pattern")
        for group in groups:
            if group not in SPECIAL and not (group in layout.bits or layout.tokens.get(group) or layout.tokens.get("")):
                raise self.wrong(
                    "tokens", f"say what the texts of (?P<{group}>…) mean, or make it a group without a name"
                )
        if not 0 <= layout.decimals <= 6:
            raise self.wrong("decimals", "is the number of digits behind the point: 0 to 6")
        try:
            make_framer(layout.framing)
        except LayoutError as error:
            raise self.wrong("framing", str(error)) from error
        check_fixed(layout, layout.framing)

    def known(self, keys: Iterable[str]) -> None:
        """Refuse unknown keys, naming the nearest known one."""
        keys = list(keys)
        for key in self.table:
            if key not in keys:
                near = difflib.get_close_matches(str(key), keys, 1)
                remedy = f"did you mean {near[0]}?" if near else _list(keys)
                raise self.wrong(key, f"is not known here; {remedy}")

    def sub(self, key: str) -> "_Table":
        """Take a table within this one."""
        table = self.table[key]
        if not isinstance(table, Mapping):
            raise self.wrong(key, f"is a table, as in [{self.where}.{key}]")
        return _Table(f"{self.where}.{key}", table)

    def get(self, key: str, kind: type[Kind], default: Kind) -> Kind:
        """Take a value of one kind."""
        value = self.table.get(key, default)
        if not isinstance(value, kind) or isinstance(value, bool) is not (kind is bool):
            raise self.wrong(key, f"is {_KINDS[kind]}, not {value!r}")
        return value

    def one_of(self, key: str, choices: Iterable[str]) -> str | None:
        """Take a text out of a closed list; None when the key is absent."""
        if key not in self.table:
            return None
        value = self.table[key]
        choices = list(choices)
        if value not in choices:
            raise self.wrong(key, f"{value!r} is not known; {_list(choices)}")
        return str(value)

    def wrong(self, key: str, what: str) -> LayoutError:
        """Make the error that says where and what."""
        return LayoutError(f"{self.where}.{key}: {what}")


_KINDS: Final[dict[type, str]] = {str: "a text", int: "a whole number", bool: "true or false"}


def _list(names: Iterable[str]) -> str:
    return "write one of " + ", ".join(names)

"""Changing a TOML file so that whatever did not change stays as it was written, comments included.

Only blocks whose values changed are written again, and in those only the values that did.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, cast

import tomlkit
from tomlkit.items import AoT, Item, Table

from tallywire.core.errors import TallywireError
from tallywire.wire.toml_blocks import Block, blocks_of

Data = Mapping[str, Any]
_INLINE = frozenset({"lanes", "loads", "tie_break", "mark"})
"""Tables that stand in one line, as people write them."""
_ORDER = ("competition", "division", "points", "standings", "cut", "entry", "event", "floor", "heat", "theme", "output")
"""The order of the tables of a new file; others come after them."""
_NAMED_BY = {"rundown": "output"}
"""What names one of several tables where it is not its `id`."""


def edited(text: str, data: Data) -> str:
    """Give the file with these values. Raises TallywireError where it is written in a way that cannot be kept."""
    before = tomllib.loads(text)
    blocks = blocks_of(text)
    if not _are_whole(blocks, before):
        raise TallywireError("found tables that are written in parts, expected each in one piece: use a text editor")
    top = {name: value for name, value in data.items() if not _is_table(before.get(name, value))}
    blocks[0] = _with_values(blocks[0], top)
    for name in _tables_in_order(data, before, top):
        several = isinstance(data.get(name), list)
        blocks = _with_tables(blocks, name, _listed(data.get(name)), _listed(before.get(name)), several=several)
    result = "".join(each.text for each in blocks)
    result = result if text else result.rstrip("\n") + "\n"
    if tomllib.loads(result) != data:
        raise TallywireError("found a file whose form cannot be kept, expected plain tables: use a text editor")
    return result


def _tables_in_order(data: Data, before: Data, top: Data) -> list[str]:
    """Name the tables of both, once each, those that are known first."""
    names = dict.fromkeys((*_ORDER, *data, *before))
    return [each for each in names if (each in data or each in before) and each not in top]


def _are_whole(blocks: Sequence[Block], data: Data) -> bool:
    """Tell whether the blocks, each by itself, say what the file says."""
    said: dict[str, list[Any]] = {}
    try:
        for block in blocks[1:]:
            [(name, value)] = tomllib.loads(block.text).items()
            if name != block.name:
                return False
            said.setdefault(name, []).extend(_listed(value))
        top = tomllib.loads(blocks[0].text)
    except (tomllib.TOMLDecodeError, ValueError):
        return False
    return said == {name: _listed(value) for name, value in data.items() if name not in top}


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def _listed(value: Any) -> list[dict[str, Any]]:
    if value is None:
        return []
    return cast(list[dict[str, Any]], value) if isinstance(value, list) else [value]


def _with_values(block: Block, values: Data) -> Block:
    """Give what stands before the first table with these values."""
    if tomllib.loads(block.text) == values:
        return block
    document = tomlkit.parse(block.text)
    _change(document, values)
    text = tomlkit.dumps(document)
    return Block(name="", text=text if not text.strip() or text.endswith("\n\n") else text.rstrip("\n") + "\n\n")


def _with_tables(
    blocks: list[Block], name: str, wanted: Sequence[Data], before: Sequence[Data], *, several: bool
) -> list[Block]:
    """Give the blocks with these tables of one name: old ones in their places, new ones behind the one before."""
    if list(wanted) == list(before):
        return blocks
    slots = [index for index, block in enumerate(blocks) if block.name == name]
    kept = _matched(wanted, before, _NAMED_BY.get(name, "id"))
    staying = sorted(slots[old] for old in kept if old is not None)
    place = iter(staying)
    at: dict[int, list[Block]] = {}
    last = staying[0] - 1 if staying and kept and kept[0] is None else _home(blocks, name, slots)
    for old, value in zip(kept, wanted, strict=True):
        if old is None:
            at.setdefault(last, []).append(_new(name, value, several=several))
        else:
            last = next(place)
            at[last] = [_changed(blocks[slots[old]], name, value, before[old]), *at.get(last, [])]
    gone = set(slots) - set(staying)
    return list(_joined(blocks, at, staying=set(staying), gone=gone))


def _home(blocks: Sequence[Block], name: str, slots: Sequence[int]) -> int:
    """Give the block behind which the first new table of a name belongs."""
    if slots:
        return slots[0] - 1
    before = _ORDER[: _ORDER.index(name)] if name in _ORDER else [each.name for each in blocks]
    return max(index for index, block in enumerate(blocks) if index == 0 or block.name in before)


def _joined(
    blocks: Sequence[Block], at: Mapping[int, Sequence[Block]], *, staying: set[int], gone: set[int]
) -> Iterator[Block]:
    for index, block in enumerate(blocks):
        if index in gone:
            yield Block(name="", text=block.tail.lstrip("\n"))
            yield from (_apart(each) for each in at.get(index, ()))
            continue
        first, *new = at.get(index, ()) if index in staying else (block, *at.get(index, ()))
        # A comment that stands by itself is the heading of what follows: new tables belong above it.
        tail = first.tail if new and index else ""
        yield _apart(Block(name=first.name, text=first.text.removesuffix(tail))) if new and index else first
        yield from (_apart(each) for each in new)
        if tail:
            yield Block(name="", text=tail.lstrip("\n"))


def _apart(block: Block) -> Block:
    """Give a block that ends with an empty line, as people part tables."""
    text = block.text if block.text.endswith("\n") else block.text + "\n"
    return Block(name=block.name, text=text if text.endswith("\n\n") else text + "\n")


def _matched(wanted: Sequence[Data], before: Sequence[Data], key: str) -> list[int | None]:
    """Give for each wanted table the one that it was, by its id; without ids, by what it says, then by number."""
    free = dict(enumerate(before))
    found: list[int | None] = []
    for number, value in enumerate(wanted):
        same = (index for index, old in free.items() if _name(old, key) == _name(value, key) or old == value)
        old = next(same, number if number in free and key not in value and key not in free[number] else None)
        found.append(old)
        if old is not None:
            del free[old]
    return found


def _name(table: Data, key: str) -> object:
    return table.get(key, id(table))


def _new(name: str, value: Data, *, several: bool) -> Block:
    document = tomlkit.document()
    document[name] = _item([value] if several else value, name)
    return Block(name=name, text=tomlkit.dumps(document).strip("\n") + "\n\n")


def _changed(block: Block, name: str, value: Data, before: Data) -> Block:
    if value == before:
        return block
    document = tomlkit.parse(block.text)
    table = document[name]
    _change(table[0] if isinstance(table, AoT) else table, value)
    return Block(name=block.name, text=tomlkit.dumps(document))


def _change(table: Any, wanted: Data) -> None:
    """Make a table say this, and touch nothing that it says already."""
    for name in [each for each in table if each not in wanted]:
        table.remove(name)
    for name, value in wanted.items():
        if name not in table:
            table[name] = _item(value, name)
            continue
        old = table[name]
        if _plain(old) == value and type(_plain(old)) is type(value):
            continue
        if isinstance(value, dict) and hasattr(old, "remove"):
            _change(old, value)
        elif isinstance(old, AoT) and _is_table(value):
            _change_several(old, value)
        else:
            table[name] = _item(value, name)


def _change_several(tables: AoT, wanted: Sequence[Data]) -> None:
    """Those that are the same at both ends stay; between them they are changed one by one, put in, or taken out."""
    old = [_plain(each) for each in tables]
    most = min(len(old), len(wanted))
    head = next((index for index in range(most) if old[index] != wanted[index]), most)
    tail = next((index for index in range(most - head) if old[-1 - index] != wanted[-1 - index]), most - head)
    middle = wanted[head : len(wanted) - tail]
    for offset, value in enumerate(middle):
        if head + offset < len(tables) - tail:
            _change(tables[head + offset], value)
        else:
            table = cast(Table, _item(value, ""))
            table.add(tomlkit.nl())
            tables.insert(head + offset, table)
    for _ in range(len(tables) - len(wanted)):
        del tables[head + len(middle)]


def _plain(item: Any) -> Any:
    return item.unwrap() if isinstance(item, Item) else item


def _item(value: Any, name: str) -> Item:
    """Give a value as it is written."""
    if isinstance(value, dict):
        table: Any = tomlkit.inline_table() if name in _INLINE else tomlkit.table()
        for each in _values_first(value):
            table[each] = _item(value[each], each)
        return cast(Item, table)
    if isinstance(value, list) and _is_table(value) and name != "vacant":
        several = tomlkit.aot()
        for each in value:
            several.append(cast(Table, _item(each, "")))
        return several
    return cast(Item, tomlkit.item(value))


def _values_first(table: Data) -> list[str]:
    """Name the fields so that values come before tables: below a table's header everything is that table's."""
    return sorted(table, key=lambda name: _is_table(table[name]) and name not in _INLINE)

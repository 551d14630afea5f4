"""What a disk may hold after a power cut: all that was flushed, and any part of the rest.

What a program writes stands in memory until it is flushed. Of what was not, the disk may have got
any: this write and not the one before it, some sectors of a write, a new name and not what is in
the file. Nobody promises an order (POSIX, ``fsync``).
"""

from dataclasses import dataclass, field, replace

from tests.faults.power_cut.system_calls import APPENDED

SECTOR_BYTES = 512


@dataclass
class File:
    """What of a file is on the disk, and what waits."""

    flushed: bytearray = field(default_factory=bytearray)
    waiting: list = field(default_factory=list)
    length: int = 0
    """As programs see it."""

    def change(self, call):
        if call.do == "cut":
            self.length = call.offset
        else:
            at = self.length if call.offset == APPENDED else call.offset
            call = replace(call, offset=at)
            self.length = max(self.length, at + len(call.data))
        self.waiting.append(call)

    def flush(self):
        for call in self.waiting:
            _apply(self.flushed, call)
        self.waiting = []

    def after_cut(self, dice, chance):
        """What it holds if each call that waits got through with ``chance``."""
        content = bytearray(self.flushed)
        for call in self.waiting:
            if chance in (0.0, 1.0):
                if chance:
                    _apply(content, call)
            elif call.do == "cut" or len(call.data) <= SECTOR_BYTES or dice.random() < 0.5:
                if dice.random() < chance:
                    _apply(content, call)
            else:
                _apply_some(content, call, dice, chance)
        return bytes(content)


@dataclass
class Folder:
    """What names a folder has for programs, which are on the disk, and what waits."""

    names: dict = field(default_factory=dict)
    flushed: dict = field(default_factory=dict)
    waiting: list = field(default_factory=list)

    def change(self, names):
        """Give each name to its file or folder; None takes it away. All of it or nothing."""
        _change(self.names, names)
        self.waiting.append(names)

    def flush(self):
        for change in self.waiting:
            _change(self.flushed, change)
        self.waiting = []

    def after_cut(self, dice, chance):
        """By path from here, what the files hold."""
        names = dict(self.flushed)
        for change in self.waiting:
            if dice.random() < chance or chance == 1.0:
                _change(names, change)
        found = {}
        for name, there in names.items():
            if isinstance(there, File):
                found[name] = there.after_cut(dice, chance)
            else:
                inner = there.after_cut(dice, chance)
                found |= {f"{name}/{each}": content for each, content in inner.items()}
        return found


class Disk:
    """A folder and all in it, while calls reach it in their order."""

    def __init__(self):
        self.root = Folder()

    def reach(self, call):
        if call.do == "said":
            return
        folder, _, name = call.name.rpartition("/")
        home, there = self._at(folder), self._at(call.name)
        if call.do in ("flush", "flush folder"):
            there.flush()
        elif call.do == "made folder":
            home.change({name: Folder()})
        elif call.do == "made" and there is None:
            home.change({name: File()})
        elif call.do == "gone":
            home.change({name: None})
        elif call.do == "moved":
            to, _, new = call.text.rpartition("/")
            assert to == folder, "a move to another folder is two changes of names"
            home.change({new: there, name: None})
        elif call.do in ("write", "cut"):
            there.change(call)

    def after_cut(self, dice, chance):
        """By path, what the files hold if the power goes now."""
        return self.root.after_cut(dice, chance)

    def _at(self, path):
        there = self.root
        for part in path.split("/"):
            if part not in ("", "."):
                there = there.names.get(part)
        return there


def _change(names, change):
    names |= change
    for name in [name for name, there in names.items() if there is None]:
        del names[name]


def _apply(content, call):
    if call.do == "cut":
        del content[call.offset :]
        content.extend(bytes(call.offset - len(content)))
        return
    content.extend(bytes(max(0, call.offset - len(content))))
    content[call.offset : call.offset + len(call.data)] = call.data


def _apply_some(content, call, dice, chance):
    """Some sectors of a write, each by itself."""
    end = call.offset + len(call.data)
    place = call.offset
    while place < end:
        border = min(end, (place // SECTOR_BYTES + 1) * SECTOR_BYTES)
        if dice.random() < chance:
            data = call.data[place - call.offset : border - call.offset]
            content.extend(bytes(max(0, place - len(content))))
            content[place:border] = data
        place = border

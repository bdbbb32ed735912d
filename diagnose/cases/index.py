"""A shop's cases in one SQLite file, built from the case files; safe to delete.

The files are the only truth. `use` looks which of them changed since the index was
written, takes those in, and rebuilds what does not hold. Where the file can't be
written or another program holds it, the same index is made in memory.

What is in it: each case as it was read (JSON), so that no YAML has to be parsed again;
the words of all its texts, as roots, for search; and posting lists for recall. A
posting list names the cases that one thing stands in (an answer, a word that was said),
as a block of 65,536 case numbers each: the low 16 bits of the numbers, in order. Lists
of that form are added up by numpy many times as fast as rows are by SQL.
"""

from __future__ import annotations

import functools
import hashlib
import os
import sqlite3
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple, TypeVar

import msgspec
import numpy as np
from numpy.typing import NDArray

from diagnose.cases.choose import roots, texts, wanted_roots
from diagnose.cases.record import Case, read_case
from diagnose.cases.shop import Broken, Cases, Kept, Shop
from diagnose.english import STOP, root_of
from diagnose.errors import AnswerError, DiagnoseError
from diagnose.readings import read
from diagnose.records import Condition, Knowledge, Then
from diagnose.sentences import cut
from diagnose.sheets import DONT_KNOW, LONGEST_WAIT, SOMEWHAT, Sheet

T = TypeVar("T")
Floats = NDArray[np.float64]
Numbers = NDArray[np.uint16]

FORMAT = 1
"""Another number in the file means that it is built anew."""

BLOCK = 16
"""Bits of a case's number within its block of a posting list."""

DOUBT = 3.0
"""Seconds; a file that changed so shortly before it was read may have changed again
under the same time, so its content is looked at once more."""

MANY = 50_000
"""So many cases are taken in at a time."""

EVERY = "#every"
"""The posting list of all cases."""

CONFIRMED = "#confirmed"
"""The posting list of the cases with a confirmed cause."""

IN_THE_WAY = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
}
"""What SQLite says of a file that is not broken, but can't be written now."""

HERE = "\0"
"""Stands for the file's name in what is said of it."""

SCHEMA = f"""
CREATE TABLE knowledge (print TEXT);
CREATE TABLE cases (
    n INTEGER PRIMARY KEY, id TEXT UNIQUE, stamp INTEGER, in_doubt INTEGER,
    digest BLOB, date TEXT, begun TEXT
);
CREATE INDEX cases_in_doubt ON cases (in_doubt) WHERE in_doubt;
CREATE INDEX cases_begun ON cases (begun) WHERE begun <> '';
CREATE TABLE docs (n INTEGER PRIMARY KEY, doc BLOB, told TEXT, broken TEXT);
CREATE TABLE posted (n INTEGER PRIMARY KEY, keys BLOB);
CREATE TABLE keys (key INTEGER PRIMARY KEY, name TEXT UNIQUE);
CREATE TABLE postings (key INTEGER, block INTEGER, cases BLOB);
CREATE UNIQUE INDEX postings_at ON postings (key, block);
CREATE VIRTUAL TABLE words USING fts5(
    roots, tokenize = 'ascii', detail = none, columnsize = 0
);
PRAGMA user_version = {FORMAT};
"""

_decoder = msgspec.json.Decoder(Case)
_encoder = msgspec.json.Encoder()


class Entry(NamedTuple):
    """A case file as it was read: a case, or what is wrong with it.

    `stamp` stands for its times and size, `digest` for its content (None where it
    could not be read); with `in_doubt` the content is looked at again next time.
    """

    id: str
    stamp: int
    in_doubt: bool
    digest: bytes | None
    case: Case | None
    told: Sequence[str] = ()
    broken: str = ""


@dataclass(frozen=True, slots=True)
class Difference:
    """How the files differ from the index: to be read, gone, and the same after all.

    With `anew` the index was made with other knowledge, and nothing of it holds.
    """

    fresh: Mapping[str, int]
    gone: Collection[str] = ()
    same: Mapping[str, int] = field(default_factory=dict)
    anew: bool = False

    def __bool__(self) -> bool:
        return bool(self.fresh or self.gone or self.anew)


def use(shop: Shop, knowledge: Knowledge, work: Callable[[Index], T]) -> T:
    """Do something with the index of a shop, as its files stand now.

    An index that is broken or of another format is built anew; where it can't be
    written, the work is done on one in memory.

    Args:
        shop: whose cases.
        knowledge: what the cases are read with.
        work: is given the index, which is closed afterwards.

    Raises:
        FolderError: the shop folder can't be read.
    """
    if shop.folder.is_dir():
        for _ in range(2):
            try:
                with closing(_connect(shop.index)) as connection:
                    index = Index(connection, shop, knowledge)
                    index.refresh()
                    return work(index)
            except (sqlite3.DatabaseError, msgspec.DecodeError, _Outdated) as error:
                if _is_in_the_way(error) or not _discard(shop.index):
                    break
        with (
            suppress(sqlite3.DatabaseError, msgspec.DecodeError, _Outdated),
            closing(_copied(shop.index)) as connection,
        ):
            index = Index(connection, shop, knowledge)
            index.refresh()
            return work(index)
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        index = Index(connection, shop, knowledge)
        index.refresh()
        return work(index)


def _is_in_the_way(error: Exception) -> bool:
    """Whether the file is locked, can't be written, or the disk is full."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in IN_THE_WAY


def all_cases(shop: Shop, knowledge: Knowledge) -> Cases:
    """What `Shop.all` gives, without reading every file again."""
    return use(shop, knowledge, lambda index: index.all())


def search(
    shop: Shop, knowledge: Knowledge, words: str
) -> tuple[list[Kept], list[Broken]]:
    """What `choose.searched` finds, and the broken files.

    Raises:
        AnswerError: there is no word to look for.
    """
    wanted = wanted_roots(words)
    return use(shop, knowledge, lambda index: (index.search(wanted), index.broken()))


class _Outdated(Exception):
    """The file is an index of another format."""


class Index:
    """An open index.

    Args:
        connection: its database; made ready where it is empty.
        shop: whose cases.
        knowledge: what the cases are read with.
    """

    def __init__(
        self, connection: sqlite3.Connection, shop: Shop, knowledge: Knowledge
    ) -> None:
        self.connection = connection
        self.shop = shop
        self.knowledge = knowledge
        self._facts = Facts(knowledge)
        if self._format() == 0:
            with self.writing():
                if self._format() == 0:
                    for statement in SCHEMA.split(";\n"):
                        connection.execute(statement)
        if self._format() != FORMAT:
            raise _Outdated

    def _format(self) -> int:
        return int(self.connection.execute("PRAGMA user_version").fetchone()[0])

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Changes that are made together or not at all."""
        self.connection.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            with suppress(sqlite3.Error):
                self.connection.execute("ROLLBACK")
            raise
        self.connection.execute("COMMIT")

    # as the files are

    def refresh(self) -> None:
        """Take in what has changed in the files since they were read."""
        difference = self._difference()
        if difference:
            self.shop.reading(len(difference.fresh))
            with self.writing():
                if not self._fits():
                    self._empty()
                difference = self._difference()  # another program was here meanwhile
                self.remove(difference.gone)
                self.put(map(self._read, difference.fresh.items()))
                self._settle(difference.same)
        elif difference.same:
            with suppress(sqlite3.OperationalError), self.writing():
                self._settle(difference.same)

    def _difference(self) -> Difference:
        now = _stamps(self.shop)
        if not self._fits():
            return Difference(now, anew=True)
        select = self.connection.execute
        then: dict[str, int] = dict(select("SELECT id, stamp FROM cases").fetchall())
        doubtful = select("SELECT id FROM cases WHERE in_doubt").fetchall()
        in_doubt = {id for (id,) in doubtful if id in now}
        if now == then and not in_doubt:
            return Difference({})
        changed = {id for id, stamp in now.items() if then.get(id) != stamp}
        fresh, same = {}, {}
        for id in sorted(changed | in_doubt):
            if id in then and self._is_same(id):
                same[id] = now[id]
            else:
                fresh[id] = now[id]
        return Difference(fresh, then.keys() - now.keys(), same)

    def _is_same(self, id: str) -> bool:
        found = self.connection.execute("SELECT digest FROM cases WHERE id = ?", (id,))
        (digest,) = found.fetchone()
        return digest is not None and digest == _digest(self.shop.path(id))

    def _settle(self, same: Mapping[str, int]) -> None:
        """Note of files whose content is the same what they look like now."""
        self.connection.executemany(
            "UPDATE cases SET stamp = ?, in_doubt = ? WHERE id = ?",
            [(stamp, _is_new(self.shop.path(id)), id) for id, stamp in same.items()],
        )

    def _fits(self) -> bool:
        """Whether it was made with this knowledge."""
        found = self.connection.execute("SELECT print FROM knowledge").fetchone()
        return found is not None and found[0] == print_of(self.knowledge)

    def _empty(self) -> None:
        tables = ("knowledge", "cases", "docs", "posted", "keys", "postings", "words")
        for table in tables:
            self.connection.execute(f"DELETE FROM {table}")
        made_with = (print_of(self.knowledge),)
        self.connection.execute("INSERT INTO knowledge VALUES (?)", made_with)

    def _read(self, item: tuple[str, int]) -> Entry:
        id, stamp = item
        path = self.shop.path(id)
        is_new, digest = _is_new(path), _digest(path)
        in_doubt = is_new or digest is None
        try:
            case, told = read_case(path, self.knowledge)
        except DiagnoseError as error:
            says = str(error).replace(str(path), HERE)
            return Entry(id, stamp, in_doubt, digest, None, (), says)
        told = [says.replace(str(path), HERE) for says in told]
        return Entry(id, stamp, in_doubt, digest, case, told)

    # writing

    def fill(self, entries: Iterable[Entry]) -> None:
        """Make it anew from cases that stand in no file, for measurements."""
        with self.writing():
            self._empty()
            self.put(entries)

    def remove(self, ids: Iterable[str]) -> None:
        """Leave out the cases with these ids."""
        numbers = [self._number(id) for id in ids]
        post = _Post(self)
        for n in numbers:
            self._take_out(n, post)
        post.flush()
        self.connection.executemany(
            "DELETE FROM cases WHERE n = ?", [(n,) for n in numbers]
        )

    def put(self, entries: Iterable[Entry]) -> None:
        """Take in cases; one that is there under the same id is replaced."""
        execute = self.connection.execute
        last = execute("SELECT coalesce(max(n), 0) FROM cases").fetchone()[0]
        post = _Post(self)
        for count, entry in enumerate(entries, 1):
            n = self._number(entry.id)
            if n:
                self._take_out(n, post)
            else:
                n = last = last + 1
            self._put(n, entry, post)
            if count % MANY == 0:
                post.flush()
        post.flush()

    def _number(self, id: str) -> int:
        found = self.connection.execute("SELECT n FROM cases WHERE id = ?", (id,))
        row = found.fetchone()
        return row[0] if row else 0

    def _take_out(self, n: int, post: _Post) -> None:
        execute = self.connection.execute
        row = execute("SELECT keys FROM posted WHERE n = ?", (n,)).fetchone()
        if row:
            post.remove(n, np.frombuffer(row[0], np.int32).tolist())
        for table, column in (("docs", "n"), ("posted", "n"), ("words", "rowid")):
            execute(f"DELETE FROM {table} WHERE {column} = ?", (n,))

    def _put(self, n: int, entry: Entry, post: _Post) -> None:
        execute, case = self.connection.execute, entry.case
        date, begun = (case.date, case.begun) if case else ("", "")
        execute(
            "INSERT OR REPLACE INTO cases VALUES (?, ?, ?, ?, ?, ?, ?)",
            (n, entry.id, entry.stamp, entry.in_doubt, entry.digest, date, begun),
        )
        told = _encoder.encode(entry.told).decode() if entry.told else None
        doc = _encoder.encode(case) if case else None
        execute("INSERT INTO docs VALUES (?, ?, ?, ?)", (n, doc, told, entry.broken))
        if case is not None:
            keys = sorted(map(post.key, self._facts.keys_of(case)))
            post.add(n, keys)
            posted = np.array(keys, np.int32).tobytes()
            execute("INSERT INTO posted VALUES (?, ?)", (n, posted))
            written = " ".join(map(_token, sorted(roots(texts(case, self.knowledge)))))
            execute("INSERT INTO words (rowid, roots) VALUES (?, ?)", (n, written))

    # reading

    def all(self) -> Cases:
        """All cases by date, and the broken files; what `Shop.all` gives."""
        rows = self.connection.execute(
            "SELECT id, doc, told FROM cases JOIN docs USING (n) WHERE doc NOTNULL "
            "ORDER BY date, id"
        )
        return Cases(tuple(self._kept(*row) for row in rows), tuple(self.broken()))

    def broken(self) -> list[Broken]:
        """The files that are no cases."""
        rows = self.connection.execute(
            "SELECT id, broken FROM docs JOIN cases USING (n) WHERE broken <> '' "
            "ORDER BY id"
        )
        found = []
        for id, says in rows:
            path = self.shop.path(id)
            found.append(Broken(id, path, says.replace(HERE, str(path))))
        return found

    def search(self, wanted: Iterable[str]) -> list[Kept]:
        """The cases in whose texts all these roots stand; newest first."""
        asked = " ".join(f'"{_token(root)}"' for root in sorted(wanted))
        rows = self.connection.execute(
            "SELECT id, doc, told FROM words JOIN cases ON n = words.rowid "
            "JOIN docs USING (n) WHERE words MATCH ? ORDER BY date DESC, id DESC",
            (asked,),
        )
        return [self._kept(*row) for row in rows]

    def kept(self, numbers: Collection[int], most: int) -> list[tuple[int, Kept]]:
        """The newest of the cases with these numbers, each with its number."""
        rows = self.connection.execute(
            "SELECT n, id, doc, told FROM cases JOIN docs USING (n) WHERE n IN "
            "(SELECT n FROM cases WHERE n IN (SELECT value FROM json_each(?)) "
            "ORDER BY date DESC, id DESC LIMIT ?) ORDER BY date DESC, id DESC",
            (_encoder.encode(list(numbers)).decode(), most),
        )
        return [(n, self._kept(*row)) for n, *row in rows]

    def _kept(self, id: str, doc: bytes, told: str | None) -> Kept:
        path = self.shop.path(id)
        case = _decoder.decode(doc)
        if not told:
            return Kept(id, path, case)
        says: list[str] = msgspec.json.decode(told, type=list[str])
        return Kept(id, path, case, tuple(s.replace(HERE, str(path)) for s in says))

    def size(self) -> int:
        """One more than the largest number of a case."""
        row = self.connection.execute("SELECT coalesce(max(n), 0) FROM cases")
        return int(row.fetchone()[0]) + 1

    def count(self) -> int:
        """How many cases there are; broken files are none."""
        return self.met([EVERY]).get(EVERY, 0)

    def numbers_of(self, ids: Collection[str], begun: str = "") -> list[int]:
        """The numbers of the cases with these ids, and of those begun at a moment."""
        rows = self.connection.execute(
            "SELECT n FROM cases WHERE id IN (SELECT value FROM json_each(?)) "
            "UNION SELECT n FROM cases WHERE begun = ? AND begun <> ''",
            (_encoder.encode(list(ids)).decode(), begun),
        )
        return [n for (n,) in rows]

    def met(self, names: Iterable[str]) -> dict[str, int]:
        """In how many cases each of these things stands."""
        rows = self.connection.execute(
            "SELECT name, sum(length(cases)) / 2 FROM keys JOIN postings USING (key) "
            "WHERE name IN (SELECT value FROM json_each(?)) GROUP BY name",
            (_encoder.encode(list(names)).decode(),),
        )
        return dict(rows.fetchall())

    def add_up(self, weights: Mapping[str, float]) -> Floats:
        """For each case number, the sum of the weights of what stands in the case."""
        size = self.size()
        total: Floats = np.zeros(((size >> BLOCK) + 1) << BLOCK)
        rows = self.connection.execute(
            "SELECT name, block, cases FROM keys JOIN postings USING (key) "
            "WHERE name IN (SELECT value FROM json_each(?))",
            (_encoder.encode(list(weights)).decode(),),
        )
        blocks = total.reshape(-1, 1 << BLOCK)
        for name, block, cases in rows:
            blocks[block][np.frombuffer(cases, np.uint16)] += weights[name]
        return total[:size]


class _Post:
    """Changes of posting lists that are made together."""

    def __init__(self, index: Index) -> None:
        self._execute = index.connection.execute
        self._keys: dict[str, int] = dict(self._execute("SELECT name, key FROM keys"))
        self._in: dict[tuple[int, int], list[int]] = {}
        self._out: dict[tuple[int, int], list[int]] = {}

    def key(self, name: str) -> int:
        """The number of a posting list; a new one where there is none."""
        if name not in self._keys:
            made = self._execute("INSERT INTO keys (name) VALUES (?)", (name,))
            self._keys[name] = made.lastrowid or 0
        return self._keys[name]

    def add(self, n: int, keys: Iterable[int]) -> None:
        """Put a case on these lists."""
        block, place = divmod(n, 1 << BLOCK)
        for key in keys:
            self._in.setdefault((key, block), []).append(place)

    def remove(self, n: int, keys: Iterable[int]) -> None:
        """Take a case that stands in the file off these lists."""
        block, place = divmod(n, 1 << BLOCK)
        for key in keys:
            self._out.setdefault((key, block), []).append(place)

    def flush(self) -> None:
        """Write the lists."""
        for at in sorted(self._in.keys() | self._out.keys()):
            row = self._execute(
                "SELECT cases FROM postings WHERE key = ? AND block = ?", at
            ).fetchone()
            cases = np.frombuffer(row[0], np.uint16) if row else np.empty(0, np.uint16)
            if at in self._out:
                cases = np.setdiff1d(cases, np.array(self._out[at], np.uint16))
            if at in self._in:
                cases = np.union1d(cases, np.array(self._in[at], np.uint16))
            if len(cases):
                self._execute(
                    "INSERT OR REPLACE INTO postings VALUES (?, ?, ?)",
                    (*at, cases.tobytes()),
                )
            else:
                self._execute("DELETE FROM postings WHERE key = ? AND block = ?", at)
        self._in.clear()
        self._out.clear()


class Facts:
    """What is known of a fault from its sheet alone, finding by finding.

    A reading counts as what a rule on it alone concludes. That is the same for a past
    case and for the present one, and takes no engine.
    """

    def __init__(self, knowledge: Knowledge) -> None:
        self._findings = knowledge.findings
        self._rules: dict[str, list[tuple[Condition, Then, Then]]] = {}
        for rule in knowledge.rules.values():
            when = rule.when
            if len(when.all) == 1 and not when.any and not when.none:
                condition = when.all[0]
                if condition.reading is not None:
                    made = (condition, rule.then, rule.otherwise or Then())
                    self._rules.setdefault(condition.reading, []).append(made)

    def of(self, sheet: Sheet) -> dict[str, str]:
        """Each finding that is known, with its value; `somewhat` is one."""
        found = {}
        for id, value in {**sheet.set_up, **sheet.answers}.items():
            finding = self._findings.get(id)
            if finding is None or finding.kind == "reading" or value == DONT_KNOW:
                continue
            if value in finding.values() or (
                value == SOMEWHAT and finding.kind == "yes-no"
            ):
                found[id] = value
        for id, text in sorted(sheet.readings.items()):
            for condition, then, otherwise in self._rules.get(id, ()):
                try:
                    reading = read(text, self._findings[id])
                except (AnswerError, KeyError):
                    break
                met = reading.chance(condition) >= 0.5
                for one in (then if met else otherwise).conclude:
                    found.setdefault(one.finding, one.value)
        return found

    def keys_of(self, case: Case) -> set[str]:
        """The names of the posting lists that a case belongs on."""
        keys = {fact_key(*fact) for fact in self.of(case).items()}
        keys |= set(map(word_key, said_roots(words_of(case))))
        keys.add(EVERY)
        if case.confirmed:
            keys.add(CONFIRMED)
        return keys


def words_of(case: Case) -> list[str]:
    """What a case says in words of what was seen."""
    return [*case.said, *case.not_understood, case.notes]


def said_roots(said: Iterable[str]) -> set[str]:
    """The roots of the words that have a meaning of their own."""
    return {
        root_of(word.text)
        for text in said
        for word in cut(text)
        if word.text not in STOP
    }


def fact_key(finding: str, value: str) -> str:
    """The name of the posting list of an answer."""
    return f"{finding}={value}"


def word_key(root: str) -> str:
    """The name of the posting list of a word."""
    return f'"{root}'


@functools.lru_cache(maxsize=4)
def print_of(knowledge: Knowledge) -> str:
    """A fingerprint of what a case is read with and made ready for recall by."""
    parts = (
        knowledge.findings,
        knowledge.rules,
        {id: cause.name for id, cause in knowledge.causes.items()},
        [*knowledge.stages],
        [*knowledge.tools],
        [*knowledge.fixes],
    )
    return hashlib.sha256(_encoder.encode(parts)).hexdigest()


def _token(root: str) -> str:
    """A root as a word that the full text takes for one, whatever stands in it."""
    if root.isascii() and root.isalnum():
        return root
    return f"u0{root.encode('utf-8', 'replace').hex()}"  # no root starts like that


def _stamps(shop: Shop) -> dict[str, int]:
    """For each case file a number for its times and size."""
    found = {}
    try:
        with os.scandir(shop.cases) as entries:
            for entry in entries:
                name = entry.name
                if name.endswith(".yaml") and not name.startswith("."):
                    try:
                        stat = entry.stat()
                    except OSError:  # a link that leads nowhere
                        found[name[:-5]] = 0
                        continue
                    stamp = hash((stat.st_mtime_ns, stat.st_ctime_ns, stat.st_size))
                    found[name[:-5]] = stamp
    except (OSError, ValueError):
        return dict.fromkeys(shop.ids(), 0)  # says what is wrong, or that none is there
    return found


def _is_new(path: Path) -> bool:
    try:
        stat = path.stat()
    except OSError:
        return True
    return max(stat.st_mtime, stat.st_ctime) > time.time() - DOUBT


def _digest(path: Path) -> bytes | None:
    """A digest of a file's content; None where it can't be read."""
    try:
        if not path.is_file():
            return None
        return hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        return None


def _connect(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=LONGEST_WAIT, isolation_level=None)
    try:
        connection.execute("PRAGMA synchronous = NORMAL")
    except BaseException:
        connection.close()
        raise
    return connection


def _copied(path: Path) -> sqlite3.Connection:
    """The file as it stands, copied into memory.

    Raises:
        sqlite3.DatabaseError: it can't be read.
    """
    uri = f"{path.absolute().as_uri()}?mode=ro"
    with closing(sqlite3.connect(uri, timeout=0.1, uri=True)) as source:
        copied = source.serialize()
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        connection.deserialize(copied)
    except BaseException:
        connection.close()
        raise
    return connection


def _discard(path: Path) -> bool:
    """Take a broken index away; whether that could be done."""
    for name in (path, path.with_name(f"{path.name}-journal")):
        try:
            name.unlink(missing_ok=True)
        except OSError:
            return False
    return True

"""A shop's folder: where its cases, its own knowledge and its drafts are kept."""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from diagnose.cases.record import Case, Read, case_text, read_case
from diagnose.errors import CaseError, DiagnoseError, FolderError, missing, nearest
from diagnose.records import Knowledge
from diagnose.sheets import LONGEST_WAIT, put_whole
from diagnose.shelf import INDEX

CASE_ID = re.compile(r"\d{4}-\d\d-\d\d-[0-9a-f]{4,}")

NOT_KEPT = "/.lock\n/index.sqlite*\n"
"""What version control had better leave out."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A case of the shop; `told` are sentences on what of it the knowledge lacks."""

    id: str
    path: Path
    case: Case
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Broken:
    """A file that is no case; `says` names every fault by file and line."""

    id: str
    path: Path
    says: str


@dataclass(frozen=True, slots=True)
class Cases:
    """All cases of a shop by date, and the files that can't be read."""

    kept: tuple[Kept, ...]
    broken: tuple[Broken, ...]


class Shop:
    """One shop.

    Args:
        folder: its folder; made when the first case is kept.
        reading: is told how many case files are going to be read into the index.
    """

    def __init__(
        self,
        folder: str | os.PathLike[str],
        reading: Callable[[int], None] = lambda count: None,
    ) -> None:
        self.folder = Path(folder)
        self.reading = reading

    @property
    def cases(self) -> Path:
        """The folder of the case files."""
        return self.folder / "cases"

    @property
    def knowledge(self) -> Path:
        """The shop's own records, laid over the built-in ones."""
        return self.folder / "knowledge"

    @property
    def proposals(self) -> Path:
        """Drafts that wait for a person."""
        return self.folder / "proposals"

    @property
    def index(self) -> Path:
        """Built from the cases; safe to delete."""
        return self.folder / INDEX

    def path(self, id: str) -> Path:
        """The file of a case."""
        return self.cases / f"{id}.yaml"

    def ids(self) -> list[str]:
        """Every case's id, in order; hidden files are none.

        Raises:
            FolderError: the folder is none, or can't be read.
        """
        try:
            names = [entry.name for entry in os.scandir(self.cases)]
        except FileNotFoundError:
            if self.folder.exists() or not self.folder.is_symlink():
                return []
            raise self._unfit("this is a link that leads nowhere") from None
        except (OSError, ValueError) as error:
            raise self._unfit(getattr(error, "strerror", None) or str(error)) from None
        return sorted(
            name.removesuffix(".yaml")
            for name in names
            if name.endswith(".yaml") and not name.startswith(".")
        )

    def read(self, id: str, knowledge: Knowledge) -> Kept:
        """One case.

        Raises:
            CaseError: there is no such case (says the nearest), or it has faults.
            FolderError: it can't be read.
        """
        ids = self.ids()
        if id not in ids:
            raise CaseError(missing("case", id, nearest(id, ids)))
        read: Read = read_case(self.path(id), knowledge)
        return Kept(id, self.path(id), read.case, tuple(read.told))

    def each(self, knowledge: Knowledge) -> Iterator[Kept | Broken]:
        """Case after case, by id; a broken file hides no other."""
        for id in self.ids():
            path = self.path(id)
            try:
                read = read_case(path, knowledge)
            except DiagnoseError as error:
                yield Broken(id, path, str(error))
            else:
                yield Kept(id, path, read.case, tuple(read.told))

    def all(self, knowledge: Knowledge) -> Cases:
        """All cases by date, and the broken files."""
        every = list(self.each(knowledge))
        kept = [one for one in every if isinstance(one, Kept)]
        kept.sort(key=lambda one: (one.case.date, one.id))
        return Cases(tuple(kept), tuple(o for o in every if isinstance(o, Broken)))

    # writing

    @contextmanager
    def lock(self) -> Iterator[None]:
        """Keep other programs from writing in the folder meanwhile.

        Raises:
            FolderError: nothing can be kept there, or another program writes.
        """
        try:
            self.cases.mkdir(parents=True, exist_ok=True)
            with FileLock(self.folder / ".lock", timeout=LONGEST_WAIT):
                yield
        except Timeout:
            raise FolderError(
                f"{self.folder}: another program is writing in this shop folder; try "
                "again."
            ) from None
        except FileExistsError:
            raise self._unfit("a file stands where a folder belongs") from None
        except (OSError, ValueError, NotImplementedError) as error:
            raise self._unfit(getattr(error, "strerror", None) or str(error)) from None

    def _unfit(self, reason: str) -> FolderError:
        return FolderError(
            f"{self.folder}: a shop's cases can't be kept or read there: {reason}. "
            "Name another folder with --shop."
        )

    def add(self, case: Case, id: str = "") -> str:
        """Keep a new case; nothing is overwritten.

        Args:
            case: the case.
            id: the id that it had elsewhere; another one is taken where it is taken.

        Returns:
            Its id.

        Raises:
            FolderError: it can't be written.
        """
        with self.lock():
            return self.put(case, id)

    def put(self, case: Case, id: str = "") -> str:
        """The same for one who holds the lock."""
        if not CASE_ID.fullmatch(id) or os.path.lexists(self.path(id)):
            id = self._new_id(case.date)
        put_whole(self.path(id), case_text(case))
        ignored = self.folder / ".gitignore"
        if not ignored.exists():
            put_whole(ignored, NOT_KEPT)
        return id

    def _new_id(self, date: str) -> str:
        digits = 4
        while True:
            for _ in range(100):
                id = f"{date}-{secrets.token_hex(digits // 2)}"
                if not os.path.lexists(self.path(id)):
                    return id
            digits += 2  # a very busy day

    def write(self, id: str, case: Case) -> None:
        """Write a case that is there anew; whole at every moment.

        Raises:
            FolderError: it can't be written.
        """
        with self.lock():
            put_whole(self.path(id), case_text(case))

    def change(
        self, id: str, knowledge: Knowledge, change: Callable[[Case], None]
    ) -> Case:
        """Read a case, change it and write it, with no other writer in between.

        Raises:
            CaseError: there is no such case, or it has faults.
            FolderError: it can't be read or written.
        """
        with self.lock():
            case = self.read(id, knowledge).case
            change(case)
            put_whole(self.path(id), case_text(case))
        return case

    def begun(self) -> dict[str, tuple[str, bool]]:
        """When each case was begun, and whether it was ended, by id.

        The text alone is looked through, so it is quick, and broken files do no harm.
        """
        found = {}
        for id in self.ids():
            try:
                text = self.path(id).read_text("utf-8", errors="replace")
            except OSError:
                continue
            lines = text.splitlines()
            moments = [o[6:].strip(" '\"") for o in lines if o.startswith("begun:")]
            ended = any(one.startswith("ended:") for one in lines)
            found[id] = ((moments or [""])[0], ended)
        return found

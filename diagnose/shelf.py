"""Where consultations are kept between starts, and which were left unfinished."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import datetime
from itertools import count
from pathlib import Path

import platformdirs
from filelock import FileLock, Timeout

from diagnose.errors import FolderError, near
from diagnose.yamltext import FileError, YamlError, read_text

FOLDER_VARIABLE = "DIAGNOSE_FOLDER"
"""The environment variable that names the folder for consultations."""

SHOP_VARIABLE = "DIAGNOSE_SHOP"
"""The environment variable that names the shop folder."""


INDEX = "index.sqlite"
"""What is built from a shop's cases; it may stand there before there is one."""

SHOP_HOLDS = ("cases", "knowledge", "proposals")
"""What a shop folder has any of, unless it is still empty."""


def shop_folder(named: Path | None = None, *, new: bool = False) -> Path | None:
    """The shop folder: the one that is named, or else DIAGNOSE_SHOP; or none.

    Args:
        named: as it was named in the command.
        new: whether it may be one that is yet to be made.

    Raises:
        FolderError: there is no such shop folder; says the nearest that is there.
    """
    folder, by = named, ""
    if folder is None:
        told = os.environ.get(SHOP_VARIABLE)
        if not told:
            return None
        folder, by = Path(told), f"{SHOP_VARIABLE}: "
    try:
        if not os.path.lexists(folder):
            if new:
                return folder
            says = f"there is no such shop folder{near_shop(folder)}"
            made = "a new one is made by: diagnose case add"
            raise FolderError(f"{by}{folder}: {says}; {made}")
        if not folder.is_dir():
            says = "this is no folder" if folder.exists() else "it leads nowhere"
            raise FolderError(f"{by}{folder}: {says}; name the shop's folder.")
        inside = {path.name for path in folder.iterdir()}
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FolderError(f"{by}{folder}: it can't be read: {reason}.") from None
    inside = {name for name in inside if not name.startswith((".", INDEX))}
    if inside and inside.isdisjoint(SHOP_HOLDS):
        shops = sorted(name for name in inside if _is_shop(folder / name))
        hint = f" (did you mean '{folder / shops[0]}'?)" if shops else ""
        holds = f"it holds none of {', '.join(SHOP_HOLDS)}"
        raise FolderError(f"{by}{folder}: this is no shop folder{hint}: {holds}.")
    return folder


def near_shop(folder: Path) -> str:
    """' (did you mean X?)' for the folder beside it with the nearest name, or ''."""
    try:
        beside = [path.name for path in folder.parent.iterdir() if path.is_dir()]
    except (OSError, ValueError):
        return ""
    found = near(folder.name, beside)
    return f" (did you mean '{folder.parent / found}'?)" if found else ""


def _is_shop(folder: Path) -> bool:
    return any((folder / name).is_dir() for name in SHOP_HOLDS)


def consultations_folder(named: Path | None = None) -> Path:
    """Where consultations are kept: the folder that is named, the one of
    DIAGNOSE_FOLDER, or the user's data folder."""
    if named is not None:
        return named
    told = os.environ.get(FOLDER_VARIABLE)
    if told:
        return Path(told)
    return Path(platformdirs.user_data_dir("diagnose", appauthor=False))


class Shelf:
    """The consultations in one folder, a file each.

    Args:
        folder: where they are; made when the first one is kept.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._held: FileLock | None = None

    def ready(self) -> None:
        """Make the folder, and see that something can be kept in it.

        Raises:
            FolderError: nothing can be kept there.
        """
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except FileExistsError:
            raise self._unfit("this is a file, not a folder") from None
        except OSError as error:
            raise self._unfit(error.strerror or str(error)) from None
        if not os.access(self.folder, os.W_OK):
            raise self._unfit("it may not be written to")

    def new(self) -> Path:
        """An empty file for a new consultation, held by this program.

        Raises:
            FolderError: nothing can be kept in the folder.
        """
        stamp = datetime.now().strftime("%Y-%m-%d-%H%M%S")
        try:
            for number in count(1):
                path = self.folder / f"consultation-{stamp}-{number}.yaml"
                with suppress(FileExistsError):
                    path.open("x").close()
                    break
        except OSError as error:
            raise self._unfit(error.strerror or str(error)) from None
        self.hold(path)
        return path

    def _unfit(self, reason: str) -> FolderError:
        return FolderError(
            f"{self.folder}: consultations can't be kept there: {reason}. Name another "
            f"folder with --keep-in or {FOLDER_VARIABLE}."
        )

    def unfinished(self, unreadable: Callable[[FileError], None]) -> Iterator[Path]:
        """Consultations that were not ended and that nobody is in, newest first.

        Args:
            unreadable: told of each one that can't be read, which is passed over.
        """
        if not self.folder.is_dir():
            return
        for path in sorted(self.folder.glob("consultation-*.yaml"), reverse=True):
            try:
                text = read_text(path)
            except FileError as error:
                unreadable(error)
                continue
            except YamlError:  # not all of it is text; whoever reads it says where
                text = path.read_text("utf-8", errors="replace")
            lines = text.splitlines()
            answered = any(not one.startswith("begun:") for one in lines)
            ended = any(one.startswith("ended:") for one in lines)
            if answered and not ended and self.hold(path):
                yield path

    def hold(self, path: Path) -> bool:
        """Keep a consultation from being gone on with by two programs at once.

        The hold ends with this program, however it ends, or with the next hold.

        Returns:
            Whether it could be had.
        """
        self.let_go()
        lock = FileLock(path.with_name(f".{path.name}.open"))
        try:
            lock.acquire(timeout=0)
        except Timeout:
            return False
        except (OSError, NotImplementedError):  # a disk that knows no locks
            return True
        self._held = lock
        return True

    def let_go(self) -> None:
        """End the hold."""
        if self._held is not None:
            with suppress(OSError):
                Path(self._held.lock_file).unlink(missing_ok=True)
                self._held.release()
            self._held = None

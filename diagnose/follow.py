"""After the result: what was tried, whether it worked, and what follows from that."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose import typed
from diagnose.consultation import Consultation
from diagnose.language import tr
from diagnose.prompts import Back, Prompt, Prompts
from diagnose.records import Fix
from diagnose.screens import bullet, line, numbered
from diagnose.sheets import NOT_YET


class Kept(Exception):
    """It is kept as it is; the next start goes on from here."""


class FollowUp(Prompts):
    """The part of an interview that comes after the result."""

    def _taken_up(self) -> list[str]:
        """The fixes that were taken up and whose outcome is not known."""
        tried = self.consultation.sheet.tried
        return [fix for fix, worked in tried.items() if worked == NOT_YET]

    def _has_worked(self) -> bool:
        return "yes" in self.consultation.sheet.tried.values()

    def _ask_for_outcomes(self) -> None:
        """Ask of each fix that was taken up whether it worked.

        Raises:
            Kept: that is not known yet.
        """
        for id in self._taken_up():
            if not self._has_worked():
                self._ask_whether_it_worked(self.knowledge.fixes[id])

    def _ask_what_was_tried(self) -> bool:
        """Which fix of the plan was tried, and whether it worked.

        Returns:
            Whether there is more to come: the fix that was tried did not help.

        Raises:
            Kept: nothing was tried yet, or it is not known whether it worked.
        """
        fixes = [one.fix for one in numbered(self.consultation.plan(), brief=True)]
        if not fixes:
            return False
        while True:
            fix = self._pick_what_was_tried(fixes)
            if fix is None:
                return False
            self.consultation.tried(fix.id, None)
            self._keep()
            worked = self._ask_whether_it_worked(fix)
            if worked is not None:
                return not worked

    def _pick_what_was_tried(self, fixes: Sequence[Fix]) -> Fix | None:
        """One of the fixes; None where nothing more is going to be tried."""
        self.console.print()
        prompt = self._list(
            tr(
                "Try them in this order. What did you try? Take its number, or "
                "write it."
            ),
            {
                **{str(n): fix.name for n, fix in enumerate(fixes, 1)},
                "?": tr("nothing yet: it is kept, and the next start asks again"),
                typed.NONE: tr("none of these, and that is all: put it away"),
            },
            why=tr(
                "What helps proves the cause, and what does not help tells too: the "
                "plan is then made anew."
            ),
            takes=tr(
                "Take 1 to {count}, 0 for none, or ? for nothing yet.", count=len(fixes)
            ),
            say=False,
        )
        named = {fix.id: [fix.name, fix.id] for fix in fixes}
        while True:
            try:
                text = self._read(prompt)
            except Back:
                line(
                    self.console, tr("To change an answer, start it again and go back.")
                )
                continue
            if typed.not_yet(text):
                raise Kept
            if typed.none_of_them(text):
                return None
            which = typed.chosen(text, named)
            if which is not None:
                return self.knowledge.fixes[which]
            self._complain(prompt.takes)

    def _ask_whether_it_worked(self, fix: Fix) -> bool | None:
        """Ask, and keep the answer; None where it was not tried after all.

        Raises:
            Kept: it is not known yet.
        """

        def show() -> None:
            line(self.console, tr("Did it work? “{name}”", name=fix.name), style="bold")
            bullet(self.console, tr("It worked when:"), fix.worked_when, 2)
            line(self.console, tr("y yes   n no   ? not known yet"), 2)

        def why() -> None:
            says = tr(
                "If it worked, that proves the cause; if not, it speaks against it."
            )
            line(self.console, says)

        def preview(text: str) -> Consultation | None:
            worked = typed.spoken(text)
            if worked not in ("yes", "no"):
                return None
            then = self.consultation.copy()
            then.tried(fix.id, worked == "yes")
            return then

        takes = tr("Take y, n, or ? if you don't know yet.")
        words = (fix.name, fix.worked_when, fix.how)
        prompt = Prompt(show, why, takes, say=False, preview=preview, words=words)
        self.console.print()
        show()
        while True:
            try:
                text = self._read(prompt)
            except Back:
                self.consultation.not_tried(fix.id)
                self._keep()
                line(self.console, tr("Then it counts as not tried."))
                return None
            worked = typed.spoken(text)
            if worked in ("yes", "no"):
                break
            if typed.not_yet(text):
                raise Kept
            self._complain(takes)
        self.consultation.tried(fix.id, worked == "yes")
        self._keep()
        helped = tr("helped") if worked == "yes" else tr("did not help")
        bullet(self.console, tr("Noted:"), f"“{fix.name}” {helped}.")
        return worked == "yes"

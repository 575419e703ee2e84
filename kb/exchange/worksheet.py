"""The worksheet of local rules as a file: read into the county, or written from it."""

from __future__ import annotations

from pathlib import Path

from kb.authoring.sheet import Sheet, parse_sheet, sheet_yaml
from kb.authoring.worksheet import Act, Worksheet, save, sign
from kb.base.clock import now
from kb.base.errors import InputError, Problems
from kb.incidents.store.folder import Folder
from kb.library.rules import Rules


def take(folder: Folder, rules: Rules, file: Path, *, by: str, check: bool) -> str:
    """Take a sheet's file as a draft, or as signed where it says so; returns what was done.

    `check` only reports. Raises Problems with every fault of the file, and InputError where the
    election is not there or its worksheet is frozen.
    """
    try:
        text = file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{file} is not UTF-8 text: {error}. Save it as UTF-8.") from None
    sheet, problems = parse_sheet(text, str(file), rules.questions)
    if sheet is None:
        raise Problems(problems)
    if folder.record.election(sheet.election) is None:
        known = ", ".join(election.id for election in folder.record.elections()) or "none yet"
        raise InputError(
            f"{file}: there is no election '{sheet.election}'. Those there are: {known}."
        )
    if folder.worksheet.worksheet(sheet.election).frozen:
        raise InputError(
            f"The worksheet of '{sheet.election}' is frozen. A change is a notice that a second "
            "person approves: ask for it on the page of the local rules."
        )
    if not check:
        _store(folder, sheet, Act(by, now()))
    return _report(sheet, rules, check=check)


def give(folder: Folder, rules: Rules, election: str | None) -> str:
    """The present sheet of an election as a file to be filled in; a draft comes first.

    Without `election`, of the one at hand. Raises InputError where there is none.
    """
    at_hand = folder.record.current_election(now()) if election is None else None
    found = folder.record.election(election) if election else at_hand
    if found is None:
        raise InputError(
            f"There is no election '{election}'." if election else "No election is set up yet."
        )
    worksheet: Worksheet = folder.worksheet.worksheet(found.id)
    return sheet_yaml(worksheet.working, rules)


def _store(folder: Folder, sheet: Sheet, act: Act) -> None:
    signature = sheet.signed
    if signature is None:
        folder.worksheet.take(sheet.election, lambda before: save(before, act, sheet))
        return
    folder.worksheet.take(
        sheet.election,
        lambda before: save(before, act, sheet),
        lambda before: sign(before, act, signature),
    )


def _report(sheet: Sheet, rules: Rules, *, check: bool) -> str:
    missing = len(sheet.missing(rules))
    state = "signed, in force" if sheet.signed else "a draft, not in force until it is signed"
    return (
        f"{sheet.election}: {len(sheet.answers)} answered, {missing} not, "
        f"{len(sheet.words)} own words; {'would be ' if check else ''}{state}"
    )

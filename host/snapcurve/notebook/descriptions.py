"""A batch and its entries in words, for the terminal. Pure."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from snapcurve.notebook import allergens
from snapcurve.notebook.allergens import Allergens
from snapcurve.notebook.cleaning import MissingCleaning
from snapcurve.notebook.entries import lot_of, made_of
from snapcurve.notebook.records import AmendedBatch, Entry, Lot, Made
from snapcurve.notebook.vocabulary import OTHER
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style, local

DEVIATION_WORDS = {
    "too hot": "too hot",
    "above": "above the window",
    "below": "below the window",
    "dip test": "failed dip test",
}
UNKNOWN = "not recorded"
NOT_KNOWN = "not known"


def batch_lines(found: AmendedBatch, style: Style) -> list[str]:
    """The batch as it stands, its lots, and every entry with who and when."""
    now, amended = found.now, {change.name for change in found.changes}
    began = "time unknown"
    if now.started_unix_ms is not None:
        began = style.minute(local(now.started_unix_ms, now.utc_offset_min))
    rehearsal = " (rehearsal)" if now.rehearsal else ""
    rehearsal += " (started by mistake)" if now.mistake else ""
    lines = [
        f"Batch {now.code}: {on_one_line(now.couverture)} by {now.method}{rehearsal}, {began}"
    ]
    fields = [
        (name, value_words(name, getattr(now, name), style))
        for name in ("operator", "place", "room_centi_c", "mass_mg", "notes")
    ]
    # of the batch, not of its couverture alone
    fields.insert(4, ("allergens", allergen_words(allergens.of(found))))
    for name, value in fields:
        mark = "  (amended)" if name in amended else ""
        lines.append(f"  {field_word(name):<10} {value}{mark}")
    lines.append(f"  {'couverture':<10} allergens {group_words(found.filed.allergens)}")
    lines += [f"  {'lot':<10} {lot_words(lot, style)}" for lot in now.lots]
    lines += [f"  {'made':<10} {made_words(one, style)}" for one in made_of(found.entries)]
    if found.filed_by is not None:
        lines.append(f"  {'filed by':<10} {login_words(found.filed_by)}")
    return lines + [f"  {entry_line(entry, style)}" for entry in found.entries]


def field_word(name: str) -> str:
    """What a person calls a field of a batch: without its unit."""
    return name.partition("_")[0]


def value_words(name: str, value: Any, style: Style) -> str:
    """A field of a batch in words."""
    if name == "allergens":
        return group_words(value)
    if value is None:
        return UNKNOWN
    if name == "room_centi_c":
        return style.temperature(value / 100)
    if name == "mass_mg":
        return style.mass(value / 1000)
    if name == "mistake":
        return "yes" if value else "no"
    return on_one_line(str(value))


def group_words(groups: Sequence[str] | None) -> str:
    """Allergens of one thing, such as a lot: named, "none" or "not known"."""
    return NOT_KNOWN if groups is None else plain_groups(groups) or "none"


def plain_groups(groups: Iterable[str]) -> str:
    """Groups as a person reads them."""
    return ", ".join(on_one_line(group.removeprefix(OTHER)) for group in groups)


def allergen_words(found: Allergens, *, reasons: bool = True) -> str:
    """A batch's allergens: what is named, what is not known, what was taken away; with
    `reasons` also by whom and why."""
    said = [plain_groups(found.named)] if found.named else []
    if found.not_known:
        said.append(f"{', '.join(map(on_one_line, found.not_known))}: {NOT_KNOWN}")
    away = [
        f"{plain_groups(one.groups)} taken away"
        + (f" by {on_one_line(one.who)}: {on_one_line(one.why)}" if reasons else "")
        for one in found.taken_away
    ]
    return ("; ".join(said) or "none") + (f" ({'; '.join(away)})" if away else "")


def lot_words(lot: Lot, style: Style) -> str:
    """One ingredient with its lot, maker, mass and allergens."""
    parts = [f"{on_one_line(lot.ingredient)}, lot {on_one_line(lot.lot)}"]
    if lot.supplier:
        parts.append(f"of {on_one_line(lot.supplier)}")
    if lot.mass_mg is not None:
        parts.append(style.mass(lot.mass_mg / 1000))
    if lot.best_before is not None:
        parts.append(f"best before {day_words(lot.best_before, style)}")
    parts.append(f"allergens {group_words(lot.allergens)}")
    return ", ".join(parts)


def day_words(day: str, style: Style) -> str:
    """A day in ISO 8601 as the settings write it."""
    return style.day(date.fromisoformat(day))


def made_words(made: Made, style: Style) -> str:
    """What was made: how much, best before when, where it went."""
    parts = [on_one_line(made.name)]
    if made.pieces is not None:
        parts.append("1 piece" if made.pieces == 1 else f"{made.pieces} pieces")
    if made.mass_mg is not None:
        parts.append(style.mass(made.mass_mg / 1000))
    if made.best_before is not None:
        parts.append(f"best before {day_words(made.best_before, style)}")
    if made.where:
        parts.append(f"to {on_one_line(made.where)}")
    return ", ".join(parts)


def entry_line(entry: Entry, style: Style) -> str:
    """An entry: when, who, what, why, and on a server whose login filed it."""
    when = style.minute(local(entry.at_unix_ms, entry.utc_offset_min))
    why = f" (why: {on_one_line(entry.why)})" if entry.why else ""
    login = "" if entry.filed_by is None else f" ({login_words(entry.filed_by)})"
    return f"{when}  {on_one_line(entry.who)}: {entry_words(entry, style)}{why}{login}"


def login_words(login: str) -> str:
    """Whose login the server sealed with what it filed: a name may be typed, a login not."""
    return f"login {on_one_line(login)}"


def entry_words(entry: Entry, style: Style) -> str:
    """What an entry says."""
    held = entry.payload
    match entry.kind:
        case "amendment":
            words = amendment_words(entry, style)
        case "outcome":
            days = held.get("after_days")
            after = "" if days is None else f" after {days_words(days)}"
            words = f"{held['what']} {held['value']}{after}"
        case "dip_test":
            number = f" (mark {held['mark']})" if "mark" in held else ""
            words = f"test blade{number} {blade_result_words(entry)}"
        case "picture":
            words = f"picture {on_one_line(held['name'])}{_also(entry)}, SHA-256 {held['sha256']}"
        case "lot":
            replaced = held.get("replaces")
            instead = f", in place of {on_one_line(replaced)}" if replaced else ""
            words = f"{lot_words(lot_of(held), style)}{instead}"
        case "cleaning":
            where = f" at {on_one_line(held['place'])}" if held.get("place") else ""
            words = f"cleaned{where}: {on_one_line(held['text'])}"
            words += f", {on_one_line(held['how'])}" if "how" in held else ""
            words += f"; {held.get('verified', 'not verified')}"
        case "hold":
            words = f"lot {on_one_line(held['lot'])} {held['state']}: {on_one_line(held['text'])}"
        case "day":
            where = f" at {on_one_line(held['bench'])}" if held["bench"] else ""
            words = f"set for {day_words(held['day'], style)}{where}"
        case "made":
            replaced = held.get("replaces")
            instead = f", in place of {on_one_line(replaced)}" if replaced else ""
            words = f"made {made_words(made_of([entry])[0], style)}{instead}"
        case "deviation":
            words = deviation_words(entry)
        case _:  # note, correction
            words = f"{entry.kind}: {on_one_line(held['text'])}"
    return words


def deviation_words(entry: Entry) -> str:
    """Which step about which deviation."""
    held = entry.payload
    what = DEVIATION_WORDS.get(held["of"], held["of"]) + f" at {held['at_s'] / 60:.0f} min"
    step = next(name for name in ("action", "disposition", "review") if name in held)
    return f"{what}, {step}: {on_one_line(held[step])}{_also(entry)}"


def amendment_words(entry: Entry, style: Style) -> str:
    """Which field, what it was, what it is."""
    name = entry.payload["field"]
    was = value_words(name, entry.payload.get("was"), style)
    now = value_words(name, entry.payload["value"], style)
    takes = entry.payload.get("takes")
    away = f"; {', '.join(takes)} taken away" if takes else ""
    return f"{field_word(name)} was {was}, is {now}{away}"


def days_words(days: int) -> str:
    """Such as "7 days"."""
    return f"{days} {'day' if days == 1 else 'days'}"


def blade_result_words(entry: Entry) -> str:
    """What a test blade showed, without its number."""
    held = entry.payload
    set_s = f", set after {held['set_s']} s" if "set_s" in held else ""
    return f"{on_one_line(held['result'])}{set_s}{_also(entry)}"


def _also(entry: Entry) -> str:
    return f", {on_one_line(entry.payload['text'])}" if entry.payload.get("text") else ""


def cleaning_sentences(missing: Iterable[MissingCleaning], codes: Iterable[str]) -> list[str]:
    """Warnings about these batches, which name both batches and what may have got from one into
    the other."""
    about = set(codes)
    return [_cleaning_sentence(one) for one in missing if one.after in about]


def _cleaning_sentence(one: MissingCleaning) -> str:
    what = f"{plain_groups(sorted(one.allergens))} may have got into it" if one.allergens else ""
    if one.not_known:
        names = ", ".join(map(on_one_line, one.not_known))
        more = "so may more" if what else "what may have got into it"
        what += f"{'; ' if what else ''}{more} that is not known ({names}: {NOT_KNOWN})"
    return (
        f"{one.after} followed {one.before} at the same place without a cleaning between, and "
        f"{what}; declare it, or note the cleaning if there was one."
    )


def cleaning_before(
    found: AmendedBatch, bench: Iterable[Entry], missing: Iterable[MissingCleaning], style: Style
) -> list[str]:
    """The last cleaning of the batch's place before it began, and what was left undone."""
    began, said = found.now.started_unix_ms, []
    cleanings = [
        entry
        for entry in bench
        if entry.kind == "cleaning"
        and entry.payload.get("verified") != "swab positive"
        and began is not None
        and entry.at_unix_ms <= began
        and entry.payload.get("place") == found.now.place
    ]
    if cleanings:
        said.append(entry_line(max(cleanings, key=lambda entry: entry.at_unix_ms), style))
    return said + cleaning_sentences(missing, [found.now.code])

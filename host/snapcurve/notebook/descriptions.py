"""A batch and its entries in words, for the terminal. Pure."""

from collections.abc import Iterable, Sequence
from typing import Any

from snapcurve.notebook import allergens
from snapcurve.notebook.allergens import Allergens
from snapcurve.notebook.cleaning import MissingCleaning
from snapcurve.notebook.entries import lot_of
from snapcurve.notebook.records import AmendedBatch, Entry, Lot
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style, local

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
    return NOT_KNOWN if groups is None else ", ".join(groups) or "none"


def allergen_words(found: Allergens, *, reasons: bool = True) -> str:
    """A batch's allergens: what is named, what is not known, what was taken away; with
    `reasons` also by whom and why."""
    said = [", ".join(found.named)] if found.named else []
    if found.not_known:
        said.append(f"{', '.join(map(on_one_line, found.not_known))}: {NOT_KNOWN}")
    away = [
        f"{', '.join(one.groups)} taken away"
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
    parts.append(f"allergens {group_words(lot.allergens)}")
    return ", ".join(parts)


def entry_line(entry: Entry, style: Style) -> str:
    """An entry: when, who, what, why."""
    when = style.minute(local(entry.at_unix_ms, entry.utc_offset_min))
    why = f" (why: {on_one_line(entry.why)})" if entry.why else ""
    return f"{when}  {on_one_line(entry.who)}: {entry_words(entry, style)}{why}"


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
        case _:  # note, correction
            words = f"{entry.kind}: {on_one_line(held['text'])}"
    return words


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
    what = f"{', '.join(sorted(one.allergens))} may have got into it" if one.allergens else ""
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
        and began is not None
        and entry.at_unix_ms <= began
        and entry.payload.get("place") == found.now.place
    ]
    if cleanings:
        said.append(entry_line(max(cleanings, key=lambda entry: entry.at_unix_ms), style))
    return said + cleaning_sentences(missing, [found.now.code])

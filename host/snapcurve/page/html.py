"""HTML from plain functions: every text is escaped here, and nowhere else."""

from collections.abc import Mapping, Sequence
from html import escape

from snapcurve.shown.plain_text import visible

# Where each room of the page is, in the order of the day.
ROOMS = (
    ("/", "Bench"),
    ("/before", "Before"),
    ("/practise", "Practise"),
    ("/after", "After"),
    ("/probe", "Probe"),
)


def text(words: object) -> str:
    """``words`` as HTML, control characters made visible."""
    return escape(visible(str(words)))


def document(
    title: str, room: str, main: str, version: str, *, live: bool = False, script: bool = True
) -> str:
    """A whole page. ``live``: its readings come by themselves, without script by loading it
    anew. ``script``: it may ask for the stream."""
    loaded = '<script src="/assets/page.js" defer></script>' if script else ""
    links = "".join(
        f'<a href="{path}"{" aria-current=" + chr(34) + "page" + chr(34) if path == room else ""}>'
        f"{text(name)}</a>"
        for path, name in ROOMS
    )
    reload = '<noscript><meta http-equiv="refresh" content="2"></noscript>' if live else ""
    return (
        f'<!doctype html><html lang="en" data-version="{text(version)}" '
        f'data-live="{"yes" if live else "no"}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{text(title)} · snapcurve</title>"
        f'<link rel="icon" href="/assets/icon.svg"><link rel="stylesheet" href="/assets/page.css">'
        f"{loaded}{reload}</head><body>"
        f'<header><nav aria-label="Rooms">{links}</nav></header>'
        '<div id="lost" role="alert"></div>'
        f"<main>{main}</main></body></html>"
    )


def part(name: str, html: str, tag: str = "div", **attributes: str) -> str:
    """A place whose content comes anew by itself."""
    more = "".join(f' {key.rstrip("_")}="{text(value)}"' for key, value in attributes.items())
    return f'<{tag} data-part="{name}"{more}>{html}</{tag}>'


def button_form(
    action: str,
    label: str,
    hidden: Mapping[str, object],
    kind: str = "act",
    *,
    off: bool = False,
) -> str:
    """One button that posts ``hidden``; ``off``: it cannot be pressed now."""
    fields = "".join(
        f'<input type="hidden" name="{text(name)}" value="{text(value)}">'
        for name, value in hidden.items()
    )
    return (
        f'<form method="post" action="{text(action)}" class="{kind}">{fields}'
        f"<button{' disabled' if off else ''}>{text(label)}</button></form>"
    )


def field(
    name: str,
    label: str,
    value: str = "",
    hint: str = "",
    kind: str = "text",
    *,
    of: str = "",
    **more: str,
) -> str:
    """A labelled input; ``hint`` stands below it. ``of`` tells two of one name apart."""
    ident, note, described = _noted(name, of, hint)
    extra = "".join(f' {key}="{text(one)}"' for key, one in more.items())
    return (
        f'<p class="field"><label for="{ident}">{text(label)}</label>'
        f'<input id="{ident}" name="{name}" type="{kind}" value="{text(value)}"'
        f"{described}{extra}>{note}</p>"
    )


def _noted(name: str, of: str, hint: str) -> tuple[str, str, str]:
    """Id of a field, its hint, and the attribute that ties both."""
    ident = f"{name}-{of}" if of else name
    if not hint:
        return ident, "", ""
    note = f'<small id="{ident}-hint">{text(hint)}</small>'
    return ident, note, f' aria-describedby="{ident}-hint"'


def area(name: str, label: str, value: str = "", hint: str = "", rows: int = 12) -> str:
    """A labelled field for several lines."""
    ident, note, described = _noted(name, "", hint)
    return (
        f'<p class="field"><label for="{ident}">{text(label)}</label>'
        f'<textarea id="{ident}" name="{name}" rows="{rows}" spellcheck="false"{described}>'
        f"\n{escape(value)}</textarea>{note}</p>"
    )


def choice(
    name: str, label: str, options: Sequence[tuple[str, str]], chosen: str = "", *, of: str = ""
) -> str:
    """A labelled list to choose from: value and words of each."""
    ident, _, _ = _noted(name, of, "")
    rows = "".join(
        f'<option value="{text(value)}"{" selected" if value == chosen else ""}>'
        f"{text(words)}</option>"
        for value, words in options
    )
    return (
        f'<p class="field"><label for="{ident}">{text(label)}</label>'
        f'<select id="{ident}" name="{name}">{rows}</select></p>'
    )


def table(head: Sequence[str], rows: Sequence[Sequence[str]], caption: str) -> str:
    """A table of cells that are HTML already; on a narrow screen each row becomes a card."""
    tops = "".join(f'<th scope="col">{text(one)}</th>' for one in head)
    body = "".join(
        "<tr>"
        + "".join(
            f'<td data-head="{text(name)}">{cell}</td>'
            for name, cell in zip(head, row, strict=True)
        )
        + "</tr>"
        for row in rows
    )
    return (
        f"<table><caption>{text(caption)}</caption><thead><tr>{tops}</tr></thead>"
        f"<tbody>{body}</tbody></table>"
    )

"""The bench screen, and the parts of it that come anew."""

from collections.abc import Mapping, Sequence
from typing import Any

from snapcurve.page import bench_words as words
from snapcurve.page.html import button_form, part, text
from snapcurve.page.pressed import on_page
from snapcurve.page.standing import ACTIONS, Standing
from snapcurve.probe import sounds
from snapcurve.shown.units import Style

# A blade's result -> what `snapcurve rescue --showed` calls it.
RESCUED = {"failed": "mark", "set_early": "early"}
LONG = 5  # characters from which on the number is set smaller


def parts(number: int, standing: Standing, now_s: float, style: Style) -> dict[str, str]:
    """What the ``number``-th bench shows now, by the name of its place; HTML."""
    condition = standing.condition(now_s)
    figure = words.number(standing, now_s, style)
    mark = words.CONDITIONS[condition][0]
    size = " long" if len(figure) >= LONG else " none" if figure == "–" else ""
    said = words.condition_words(standing, now_s)
    state = "none" if standing.reading is None else standing.reading.state
    shown = {
        "figure": f'<span class="figure {condition}{size}" data-state="{text(state)}">'
        f"{text(figure)}</span>",
        "unit": text(words.beside_number(standing, style)),
        "condition": f'<span class="{condition}"><span aria-hidden="true">{mark}</span> '
        f"{text(said)}</span>",
        "phase": text(words.phase_words(standing)),
        "next": text(words.next_step(standing, now_s, style)),
        "minutes": text(words.minutes_words(standing, now_s)),
        "dip": text(words.dip_words(standing)),
        "heard": text(words.heard_words(standing)),
        "acts": acts(number, standing),
        "curve": standing.curve,
        "remark": text(on_page(standing.remark)),
        "strip": f"{mark} {text(figure)} {text(style.degree)} {text(said)}",
    }
    return {f"{number}.{name}": html for name, html in shown.items()}


def acts(number: int, standing: Standing) -> str:
    """The buttons of this moment; after a blade that did not come out right, the way to what to
    do now."""
    buttons = "".join(
        button_form(
            f"/bench/{number}/press",
            ACTIONS[word][0],
            {"word": word, "turn": standing.turn(word)},
            f"act {word}",
        )
        for word in standing.actions()
    )
    if standing.to_collect:
        buttons += (
            '<form method="post" action="/after/collect" class="big">'
            f'<input type="hidden" name="bench" value="{number}">'
            "<button>Collect the batch</button></form>"
        )
    if standing.dip is not None and standing.dip.result in RESCUED:
        showed = RESCUED[standing.dip.result]
        buttons += f'<a class="button" href="/before/rescue?showed={showed}">Put it right</a>'
    return buttons


def sound(standing: Standing) -> list[Any] | None:
    """What a browser plays of the sound that began last: its count, tones and pitch."""
    if standing.heard is None or standing.heard.count == 0:
        return None
    try:
        _, rhythm, hz, _, _ = sounds.find(standing.heard.name)
    except KeyError:
        return None
    return [standing.heard.count, sounds.tones(rhythm), hz]


def screen(number: int, shown: Mapping[str, str], others: Sequence[tuple[int, str]]) -> str:
    """The whole screen, filled with what is shown now; ``others`` are further benches."""

    def place(name: str, tag: str = "div", **attributes: str) -> str:
        key = f"{number}.{name}"
        return part(key, shown[key], tag, class_=name, **attributes)

    beside = "".join(
        f'<a class="other" href="/bench/{other}"><span>{text(port)}</span> '
        f"{part(f'{other}.strip', shown.get(f'{other}.strip', ''), 'span')}</a>"
        for other, port in others
    )
    more = f'<nav class="others" aria-label="Other boards">{beside}</nav>' if beside else ""
    phase, unit = place("phase", "span"), place("unit", "span")
    return (
        f'<div class="bench" data-bench="{number}">'
        f'<div class="top" role="status"><h1>{phase}</h1></div>'
        f'<section class="reading" aria-label="Reading">{place("figure", "p")}'
        f'<p class="beside">{unit}</p>'
        f"{place('condition', 'p', role='status')}</section>"
        f'<div class="todo" role="status">{place("next", "p")}</div>'
        f'<section class="hands" aria-label="What to note">{place("acts")}'
        '<p class="answer" role="status" id="answer"></p></section>'
        f'<div class="times">{place("minutes", "p")}{place("dip", "p")}</div>'
        f'<section class="picture" aria-label="Curve">{place("curve")}</section>'
        f'<section class="more" aria-label="Sounds">{place("heard", "p")}{place("remark", "p")}'
        '<p class="tools"><button type="button" id="hold" aria-pressed="false">Hold the curve'
        '</button> <button type="button" id="sound" aria-pressed="false">Sounds here</button> '
        '<button type="button" id="speak" aria-pressed="false">Say the next step</button> '
        '<a class="button" href="/tablet">Let a tablet in</a></p>'
        f"</section>{more}</div>"
    )

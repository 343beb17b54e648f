"""What every room needs of the server: forms that came, and pages that go."""

from urllib.parse import parse_qs

from starlette.requests import Request
from starlette.responses import HTMLResponse

from snapcurve.errors import SnapcurveError
from snapcurve.page import html
from snapcurve.page.site import Site

FIELDS_MOST = 60


async def form_of(request: Request) -> dict[str, str]:
    """The fields of a posted form, the last of each name. SnapcurveError if it is none."""
    raw = await request.body()
    try:
        found = parse_qs(
            raw.decode("utf-8"),
            keep_blank_values=True,
            max_num_fields=FIELDS_MOST,
            errors="strict",
        )
    except ValueError as error:
        raise SnapcurveError("The form cannot be read: load the page anew.") from error
    return {name: values[-1] for name, values in found.items()}


def document(
    site: Site,
    title: str,
    room: str,
    main: str,
    *,
    live: bool = False,
    script: bool = True,
    status: int = 200,
) -> HTMLResponse:
    """A page of this site."""
    whole = html.document(title, room, main, site.version, live=live, script=script)
    return HTMLResponse(whole, status)

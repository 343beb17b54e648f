"""Across a network: a real server with a certificate of its own, and the same without."""

import pytest
from postgresql_server import PASSWORD, Server, require
from sqlalchemy import text

from snapcurve import notebook
from snapcurve.cli import main
from snapcurve.errors import RecordError
from snapcurve.page.certificate import certificate_for

ELSEWHERE = "0.0.0.0"  # leads to this computer, and nothing in it says so


@pytest.fixture(scope="module")
def certified(tmp_path_factory):
    """A certificate for 127.0.0.1, which nobody vouches for."""
    pytest.importorskip("cryptography")
    return certificate_for("127.0.0.1", tmp_path_factory.mktemp("certificate"))


@pytest.fixture(scope="module")
def server(certified):
    server = Server(require(), (certified.certificate, certified.key))
    yield server
    server.stop()


def line_of(place):
    """Whether the server sees this connection encrypted, and how."""
    with notebook.open_notebook(place) as book, book.engine.connect() as connection:
        query = "SELECT ssl, version FROM pg_stat_ssl WHERE pid = pg_backend_pid()"
        return tuple(connection.execute(text(query)).one())


def test_a_server_elsewhere_is_reached_encrypted(server):
    server.new_database()
    assert line_of(server.url("notebook_1", host=ELSEWHERE)) == (True, "TLSv1.3")
    plainly = server.url("notebook_1", host=ELSEWHERE) + "?sslmode=disable"
    assert line_of(plainly) == (False, None)


def test_one_that_offers_no_encryption_is_refused_in_a_sentence(postgresql, own_computer, capsys):
    name = postgresql.new_database().rpartition("/")[2]
    place = postgresql.url(name, host=ELSEWHERE)
    assert main(["batches", "--notebook", place]) != 0
    said = capsys.readouterr().err.strip()
    assert "offers no encrypted connection; have TLS switched on there" in said
    assert said.count(".") == 1
    assert said.endswith(".")
    assert PASSWORD not in said
    assert line_of(place + "?sslmode=prefer") == (False, None)


def test_the_servers_certificate_is_checked_if_asked_for(server, certified):
    name = server.new_database().rpartition("/")[2]
    checked = f"?sslmode=verify-full&sslrootcert={certified.certificate}"
    assert line_of(server.url(name) + checked) == (True, "TLSv1.3")
    # a certificate for another address, and one that nobody vouches for
    strangers = (
        server.url(name, host=ELSEWHERE) + checked,
        server.url(name) + ("?sslmode=verify-full&sslrootcert=system"),
    )
    for stranger in strangers:
        with pytest.raises(RecordError, match="shows a certificate that") as caught:
            notebook.open_notebook(stranger)
        assert PASSWORD not in str(caught.value)

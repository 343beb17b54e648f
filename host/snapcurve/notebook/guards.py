"""The notebook's own triggers: whether each is there, as it was made, and no other beside them.

A missing one lets rows be rewritten; a foreign one may change what is written before it is
sealed, and every seal would fit. Definitions are compared by their SHA-256, so that the
migrations stay the one place where they are written; a test compares these digests with what the
migrations make, and prints the right ones.
"""

from __future__ import annotations

import hashlib

from sqlalchemy import Connection, text

from snapcurve.notebook import tables

_SQLITE = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
# A trigger is as good as its function: with its source, whose rights it has, and its settings; and
# so are the functions by which a bench files.
_POSTGRESQL = """
    SELECT t.tgname AS name, t.tgenabled::text AS enabled, pg_get_triggerdef(t.oid, true) AS made,
           p.prosrc AS source, p.prosecdef AS secured,
           replace(p.proconfig::text, current_schema()::text, 'its schema') AS settings
    FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid
    WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace
    UNION ALL
    SELECT p.proname || '()', '', pg_get_function_arguments(p.oid), p.prosrc, p.prosecdef,
           replace(p.proconfig::text, current_schema()::text, 'its schema')
    FROM pg_proc p
    WHERE p.pronamespace = current_schema()::regnamespace AND p.proname LIKE 'snapcurve%'
"""
_SWITCHED_OFF = """
    SELECT DISTINCT c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
    WHERE t.tgisinternal AND t.tgenabled <> 'O' AND c.relnamespace = current_schema()::regnamespace
"""
_RULES = "SELECT rulename, tablename FROM pg_rules WHERE schemaname = current_schema()"
_POLICIES = """
    SELECT relname FROM pg_class
    WHERE relrowsecurity AND relnamespace = current_schema()::regnamespace
"""

# The digest of each definition, as `found` gives them.
SQLITE: dict[str, str] = {
    "alarms_never_deleted": "240e47333a948e8e31b9b54746dc0d04",
    "alarms_never_rewritten": "b5ca2454fe46a62e3f7923bfb4cca0ae",
    "batches_never_deleted": "f85b21fe3fb3a4c5ce7a4ebc7490904b",
    "batches_never_rewritten": "baf9d40203c96d0defa94394cc98ad8b",
    "calibrations_never_deleted": "5b4ed1ac77d87ad3f8e09390f0c8bbc2",
    "calibrations_never_rewritten": "4861828db99afe26fa8f22631e215afc",
    "curves_never_deleted": "cd3f5aaa6e4bddb3c0d61afbfce51700",
    "curves_never_rewritten": "236153d2ce7a4337badb7aca1c2fd612",
    "entries_never_deleted": "158c890c55c74f1a89957b755c64d7aa",
    "entries_never_rewritten": "dc98f74bb083cbff0f664eb770b4d8c5",
    "lots_never_deleted": "58726fd84facd1e22db8392ca4f7f173",
    "lots_never_rewritten": "e114f56cbd5418e75f40453fa454e7e5",
    "marks_never_deleted": "43b05e418c740ebbdb8cc5949c3b0656",
    "marks_never_rewritten": "170b6dcb4c86258025526ed2b02fe581",
    "pictures_never_deleted": "790876f182374a756f3e2bda69dd216b",
    "pictures_never_rewritten": "4713392e9fde191c1ecb4cf250f514b9",
    "seal_head_goes_on": "481ade6f4f7b0f7ec70a7cfbef616b73",
    "seal_head_never_deleted": "86e31424a6e226b570e89dc93cf764f5",
    "seals_never_deleted": "3ff9a9404ae967f00f8ab8c0f7fc7ef5",
    "seals_never_rewritten": "5566efcf9cce84fe4a9ac545fc435de2",
    "words_never_deleted": "a217b4557eb3e64c0bf8a8cd21003f58",
    "words_never_rewritten": "b349f13efbe50400b3bca2657dced1a4",
}
POSTGRESQL: dict[str, str] = {
    "alarms_never_changed": "32d96059b771dcdc776a6da2511a1cd0",
    "alarms_opened": "f18a2da9db86c28e7b49c6a2dc26aed1",
    "batches_never_changed": "7ed8728e92118698852df91394daf1ec",
    "batches_opened": "dfec197ef7dbb90d23a5dbf8133e04b5",
    "batches_sealed": "1b22dd2cc13580326171a6be5b82c26a",
    "calibrations_never_changed": "abdc9c03cc75422c7ed78022f71dfe8e",
    "calibrations_opened": "1829436a4456553c2b5885e27fbcff0c",
    "calibrations_sealed": "0f9d62eb55e8d5f309beb7e502cb95c1",
    "curves_never_deleted": "15aa0c1d779aeec17cd679dde51ea4fe",
    "curves_never_rewritten": "3a2533db85998395b21e8b487ffb52d7",
    "curves_opened": "2b0ab3b8353a3109a6395664a5d322fe",
    "entries_never_changed": "72788677e7bb10d60e395a28d1a869e9",
    "entries_opened": "1b65c5bfcea0fa71c7a2452d99a95975",
    "entries_sealed": "3f0376fd6431da4f441fc08682bff57f",
    "lots_never_changed": "48769e7d3d78f963cc50c425d1261aa0",
    "lots_opened": "e17eeeaed490f23002264987e3c36299",
    "marks_never_changed": "78d919b5d63d6c022eecd56be2db6966",
    "marks_opened": "c4eef02d53965a4b48b5d3281d5822bd",
    "pictures_never_changed": "5029ba1d4718cb8f204afba04e72c522",
    "pictures_opened": "ef7f555e09c7637b4799d9d6c495ce21",
    "seal_head_goes_on": "7b3ec37c9d485e6fbe12c73222c3a7d9",
    "seal_head_never_deleted": "c8e399daf76b15979ce2b9086fe8faca",
    "seals_never_changed": "c8f09364cb0bb4ddaa3dd9b66ccaf926",
    "snapcurve_check_payload()": "892d0c8ef84367040e1d33eebfbf4f19",
    "snapcurve_crc32()": "d1ac5384a8361c88421dfb6a2ec43cf7",
    "snapcurve_fits()": "f8ec9f125cadd73e301e2197ee25a3a2",
    "snapcurve_is_open()": "b9bd6a61b1ad5065445a5df7eea46e68",
    "snapcurve_lock()": "eda4e99b41dc44100ce91e136d27e0e8",
    "snapcurve_open_item()": "d44a1c12b47c0b9b59a2681281a6e062",
    "snapcurve_open_part()": "d721b69449bcd2659c6000a833005058",
    "snapcurve_seal()": "772c17e9dbb821aa60aa3a2e0e4ae29e",
    "snapcurve_sealed()": "b8a4dbbec63cdccc3d92d3d70edabb85",
    "snapcurve_value()": "7f144af40b41d4e3c4ca6a99d773b176",
    "words_never_changed": "6e71c21104a4d2bbd981ec2fd0a4cdf6",
    "words_opened": "8ae2c2ee75f3b37f1d0e883fe930ec08",
}


def problems(connection: Connection) -> list[str]:
    """A sentence for each guard that is missing, altered or not the notebook's own."""
    sqlite = connection.dialect.name == "sqlite"
    expected, there = SQLITE if sqlite else POSTGRESQL, found(connection)
    said = [
        f"The guard {name} is missing: what was recorded could have been changed since."
        for name in expected
        if name not in there
    ]
    for name, digest in sorted(there.items()):
        if name not in expected:
            said.append(
                f"The {_kind(name)} {name} is not the notebook's own: it may have changed what was"
                " filed before it was sealed."
            )
        elif digest != expected[name]:
            said.append(
                f"The guard {name} was altered: what was recorded could have been changed since."
            )
    return said if sqlite else said + _other_ways(connection)


def _kind(name: str) -> str:
    return "function" if name.endswith("()") else "trigger"


def found(connection: Connection) -> dict[str, str]:
    """Every trigger of the notebook's tables by its name, on a server also every function for
    filing, and the digest of its definition."""
    if connection.dialect.name == "sqlite":
        rows = connection.execute(text(_SQLITE))
        return {row.name: _digest(str(row.sql)) for row in rows}
    made = {}
    for row in connection.execute(text(_POSTGRESQL)):
        parts = (row.made, row.enabled, row.source, row.secured, row.settings)
        made[row.name] = _digest(" ".join(map(str, parts)))
    return made


def _digest(definition: str) -> str:
    return hashlib.sha256(" ".join(definition.split()).encode()).hexdigest()[:32]


def _other_ways(connection: Connection) -> list[str]:
    """What else on a server makes a statement do something other than it says."""
    said = [
        f"The rule {row.rulename} of {row.tablename} is not the notebook's own: it may have"
        " changed what was filed before it was sealed."
        for row in connection.execute(text(_RULES))
    ]
    for name in connection.execute(text(_POLICIES)).scalars():
        if name in tables.metadata.tables:
            said.append(f"Rows of {name} are hidden from some users by a policy.")
    for name in connection.execute(text(_SWITCHED_OFF)).scalars():
        said.append(f"What holds {name} and the rows it belongs to together is switched off.")
    return said

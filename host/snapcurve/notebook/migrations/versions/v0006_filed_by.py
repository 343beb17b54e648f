"""Who filed what: on a server the database seals what a bench files, by functions of the
notebook's owner, and says whose login it was. A bench can neither seal nor add to what is sealed.

The functions work out the same bytes as `hash_chain` does (form 4). Ids are given here, not by
sequences, which any login could use up.
"""

import json

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

_FORM = 4
_INT, _TEXT, _BYTES, _TRUTH = "i", "t", "b", "o"
# Each table of an item with its columns and their kinds; the same as in form 4.
_BATCHES = (
    "id:i day:t day_number:i started_unix_ms:i utc_offset_min:i couverture:t method:t profile:b"
    " couverture_toml:t rehearsal:o operator:t notes:t created_unix_ms:i uncertainty_centi_c:i"
    " uncertainty_at_centi_c:i place:t room_centi_c:i mass_mg:i allergens:t calibration:b"
)
_CURVES = (
    "id:i batch_id:i board_id:i board_name:t boot:i curve:i generation:i size:i crc:i raw:b"
    " collected_unix_ms:i"
)
_MARKS = "id:i batch_id:i offset_ms:i kind:t number:i phase:t estimate_centi_c:i"
_ALARMS = "id:i batch_id:i offset_ms:i alarm:t phase:t estimate_centi_c:i"
_LOTS = (
    "id:i batch_id:i entry_id:i ingredient:t supplier:t lot:t mass_mg:i allergens:t best_before:t"
)
_ENTRIES = "id:i batch_id:i kind:t who:t why:t at_unix_ms:i utc_offset_min:i payload:t"
_PICTURES = "id:i entry_id:i media_type:t content:b sha256:t"
_CALIBRATIONS = (
    "id:i board_id:i board_name:t filed_unix_ms:i step:t converter:t tc_type:t raw:b rehearsal:o"
)
_ITEMS = {
    "batch": (
        ("batches", _BATCHES, "id = wanted"),
        ("curves", _CURVES, "batch_id = wanted"),
        ("marks", _MARKS, "batch_id = wanted"),
        ("alarms", _ALARMS, "batch_id = wanted"),
        ("lots", _LOTS, "entry_id IS NULL AND batch_id = wanted"),
    ),
    "entry": (
        ("entries", _ENTRIES, "id = wanted"),
        ("lots", _LOTS, "entry_id = wanted"),
        ("pictures", _PICTURES, "entry_id = wanted"),
    ),
    "calibration": (("calibrations", _CALIBRATIONS, "id = wanted"),),
}
_NUMBERED = ["batches", "curves", "marks", "alarms", "lots", "entries", "pictures", "calibrations"]
# What an entry of each kind holds: JSON's types, "!" where it must be there, "words" a list of
# texts.
_PAYLOADS = {
    "note": {"text": "string!"},
    "amendment": {"field": "string!", "value": "any!", "was": "any", "takes": "words"},
    "outcome": {"what": "string!", "value": "string!", "after_days": "number"},
    "dip_test": {"result": "string!", "mark": "number", "set_s": "number", "text": "string"},
    "correction": {"text": "string!"},
    "picture": {
        "name": "string!", "text": "string", "sha256": "string!", "size_bytes": "number!",
    },
    "lot": {
        "ingredient": "string!", "lot": "string!", "supplier": "string", "mass_mg": "number",
        "allergens": "words", "best_before": "string", "replaces": "string",
    },
    "cleaning": {"text": "string!", "place": "string", "how": "string", "verified": "string"},
    "made": {
        "name": "string!", "pieces": "number", "mass_mg": "number", "best_before": "string",
        "where": "string", "replaces": "string",
    },
    "deviation": {
        "of": "string!", "at_s": "number!", "action": "string", "disposition": "string",
        "review": "string", "text": "string",
    },
    "hold": {"lot": "string!", "state": "string!", "text": "string!"},
    "day": {
        "day": "string!", "bench": "string!", "place": "string", "operator": "string",
        "room_centi_c": "number", "mass_mg": "number", "lots": "any",
    },
}  # fmt: skip
_AMENDABLE = {
    "couverture": "string", "operator": "string", "notes": "string", "place": "string",
    "room_centi_c": "number", "mass_mg": "number", "allergens": "words", "mistake": "boolean",
}  # fmt: skip
_MS_MAX = 253_402_214_400_000  # 9999-12-31, the last day that calendars of programs know

_DEFINER = "LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, {schema}, pg_temp"

_BYTES_OF = """
CREATE FUNCTION snapcurve_value(kind text, number bigint, said text, raw bytea) RETURNS bytea
LANGUAGE sql IMMUTABLE SET search_path = pg_catalog AS $$
    SELECT CASE
        WHEN kind = 'i' AND number IS NOT NULL THEN convert_to('i' || number || ';', 'UTF8')
        WHEN kind = 't' AND said IS NOT NULL THEN
            convert_to('t' || octet_length(convert_to(said, 'UTF8')) || ':' || said, 'UTF8')
        WHEN kind = 'b' AND raw IS NOT NULL THEN
            convert_to('b' || octet_length(raw) || ':', 'UTF8') || raw
        ELSE convert_to('n;', 'UTF8')
    END
$$
"""

# CRC-32/ISO-HDLC, a byte at a time; 16 entries of a table do for the two halves of a byte.
_CRC = """
CREATE FUNCTION snapcurve_crc32(raw bytea) RETURNS bigint
LANGUAGE plpgsql IMMUTABLE SET search_path = pg_catalog AS $$
DECLARE
    half bigint[] := ARRAY[0, 498536548, 997073096, 651767980, 1994146192, 1802195444, 1303535960,
        1342533948, 3988292384, 4027552580, 3604390888, 3412177804, 2607071920, 2262029012,
        2685067896, 3183342108];
    crc bigint := 4294967295;
BEGIN
    FOR at IN 0 .. octet_length(raw) - 1 LOOP
        crc := crc # get_byte(raw, at);
        crc := (crc >> 4) # half[(crc & 15) + 1];
        crc := (crc >> 4) # half[(crc & 15) + 1];
    END LOOP;
    RETURN crc # 4294967295;
END $$
"""

# A login that files holds the row of seal_head. One that holds it for longer than five seconds
# is ended, so that one that hangs, or wants to, keeps nobody waiting; for that the owner needs the
# two rights that roles.sql gives.
_LOCK = """
CREATE FUNCTION snapcurve_lock() RETURNS TABLE (number integer, hash text)
{definer} AS $$
DECLARE
    ended boolean;
BEGIN
    BEGIN
        RETURN QUERY SELECT h.number, h.hash FROM seal_head h FOR UPDATE;
        RETURN;
    EXCEPTION WHEN lock_not_available THEN
        IF NOT (pg_has_role(current_user, 'pg_signal_backend', 'MEMBER')
                AND pg_has_role(current_user, 'pg_read_all_stats', 'MEMBER')) THEN
            RAISE;
        END IF;
        SELECT bool_or(pg_terminate_backend(a.pid)) INTO ended
        FROM pg_stat_activity a JOIN pg_locks l ON l.pid = a.pid
        WHERE l.relation = 'seal_head'::regclass AND l.granted AND l.mode = 'RowShareLock'
            AND a.pid <> pg_backend_pid() AND a.wait_event_type IS DISTINCT FROM 'Lock'
            AND a.xact_start < clock_timestamp() - interval '4.5 seconds';
        IF ended IS NOT TRUE THEN
            RAISE;
        END IF;
    END;
    PERFORM pg_sleep(0.1);
    RETURN QUERY SELECT h.number, h.hash FROM seal_head h FOR UPDATE;
END $$
"""

# Whether an item was begun by this very transaction and is not sealed yet.
_MINE = """
CREATE FUNCTION snapcurve_is_open(its_kind text, wanted integer) RETURNS boolean
{definer} AS $$
DECLARE
    mine text := (txid_current() & 4294967295)::text;
    found boolean;
BEGIN
    IF its_kind = 'batch' THEN
        SELECT xmin::text = mine INTO found FROM batches WHERE id = wanted;
    ELSIF its_kind = 'entry' THEN
        SELECT xmin::text = mine INTO found FROM entries WHERE id = wanted;
    ELSE
        SELECT xmin::text = mine INTO found FROM calibrations WHERE id = wanted;
    END IF;
    RETURN coalesce(found, false) AND NOT EXISTS (
        SELECT FROM seals WHERE kind = its_kind AND item_id = wanted);
END $$
"""

_FITS = """
CREATE FUNCTION snapcurve_fits(value jsonb, wanted text) RETURNS boolean
LANGUAGE plpgsql IMMUTABLE SET search_path = pg_catalog AS $$
BEGIN
    wanted := rtrim(wanted, '!');
    IF wanted = 'any' THEN RETURN true; END IF;
    IF wanted = 'words' THEN
        RETURN jsonb_typeof(value) = 'array' AND NOT EXISTS (
            SELECT FROM jsonb_array_elements(value) one WHERE jsonb_typeof(one) <> 'string');
    END IF;
    IF wanted = 'number' THEN
        RETURN jsonb_typeof(value) = 'number' AND value::numeric = trunc(value::numeric)
            AND abs(value::numeric) < 9007199254740992;
    END IF;
    RETURN jsonb_typeof(value) = wanted;
END $$
"""

_PAYLOAD = """
CREATE FUNCTION snapcurve_check_payload(kind text, payload text) RETURNS void
LANGUAGE plpgsql SET search_path = pg_catalog, {schema}, pg_temp AS $$
DECLARE
    held jsonb := payload::jsonb;
    wanted jsonb := '{payloads}'::jsonb -> kind;
    amendable jsonb := '{amendable}'::jsonb;
    its record;
BEGIN
    IF wanted IS NULL OR jsonb_typeof(held) <> 'object' OR octet_length(payload) > 1000000 THEN
        RAISE EXCEPTION 'there is no such entry';
    END IF;
    FOR its IN SELECT * FROM jsonb_each_text(wanted) LOOP
        IF NOT held ? its.key THEN
            IF right(its.value, 1) = '!' THEN
                RAISE EXCEPTION 'something of the entry is missing';
            END IF;
        ELSIF NOT snapcurve_fits(held -> its.key, its.value) THEN
            RAISE EXCEPTION 'something of the entry cannot be';
        END IF;
    END LOOP;
    IF EXISTS (SELECT FROM jsonb_object_keys(held) key WHERE NOT wanted ? key) THEN
        RAISE EXCEPTION 'the entry holds what no entry holds';
    END IF;
    -- what is no day raises an error of its own
    PERFORM (held ->> 'best_before')::date, CASE WHEN kind = 'day' THEN (held ->> 'day')::date END;
    IF coalesce(held ->> 'best_before', '2000-01-01') !~ '{day}'
        OR (kind = 'day' AND held ->> 'day' !~ '{day}')
    THEN
        RAISE EXCEPTION 'a day is written as 2026-11-30';
    END IF;
    IF kind = 'day' AND held ? 'lots' AND (jsonb_typeof(held -> 'lots') <> 'array' OR EXISTS (
        SELECT FROM jsonb_array_elements(held -> 'lots') one
        WHERE jsonb_typeof(one) <> 'array' OR jsonb_array_length(one) <> 2
            OR jsonb_typeof(one -> 0) <> 'string' OR jsonb_typeof(one -> 1) <> 'object'
            OR NOT coalesce(jsonb_typeof(one -> 1 -> 'ingredient') = 'string'
                AND jsonb_typeof(one -> 1 -> 'lot') = 'string'
                AND jsonb_typeof(one -> 1 -> 'allergens') IN ('null', 'array'), false)
            OR EXISTS (SELECT FROM jsonb_object_keys(one -> 1) key WHERE key NOT IN
                ('ingredient', 'lot', 'supplier', 'mass_mg', 'allergens', 'best_before'))))
    THEN
        RAISE EXCEPTION 'such lots of a day cannot be';
    END IF;
    IF kind = 'amendment' AND (
        amendable ->> (held ->> 'field') IS NULL
        OR NOT (snapcurve_fits(held -> 'value', amendable ->> (held ->> 'field'))
            OR (jsonb_typeof(held -> 'value') = 'null'
                AND held ->> 'field' NOT IN ('couverture', 'mistake')))
    ) THEN
        RAISE EXCEPTION 'the amendment cannot be';
    END IF;
END $$
"""

_OPEN_ITEM = """
CREATE FUNCTION snapcurve_open_item() RETURNS trigger
{definer} AS $$
DECLARE
    last integer;
BEGIN
    PERFORM snapcurve_lock();
    IF TG_TABLE_NAME = 'batches' THEN
        SELECT coalesce(max(id), 0) INTO NEW.id FROM batches;
        SELECT coalesce(max(day_number), 0) INTO last FROM batches WHERE day = NEW.day;
        IF NEW.day !~ '^([0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}|undated)$' OR NEW.day_number <> last + 1
            OR abs(NEW.utc_offset_min) > 1440 OR NEW.created_unix_ms NOT BETWEEN 0 AND {ms_max}
            OR coalesce(NEW.started_unix_ms, 0) NOT BETWEEN 0 AND {ms_max}
        THEN
            RAISE EXCEPTION 'such a batch cannot be';
        END IF;
        IF NEW.allergens IS NOT NULL AND NOT snapcurve_fits(NEW.allergens::jsonb, 'words') THEN
            RAISE EXCEPTION 'such allergens cannot be';
        END IF;
    ELSIF TG_TABLE_NAME = 'entries' THEN
        SELECT coalesce(max(id), 0) INTO NEW.id FROM entries;
        PERFORM snapcurve_check_payload(NEW.kind, NEW.payload);
        IF NEW.at_unix_ms NOT BETWEEN 0 AND {ms_max} OR abs(NEW.utc_offset_min) > 1440
            OR octet_length(NEW.who) NOT BETWEEN 1 AND 100000 OR octet_length(NEW.why) > 100000
            OR (NEW.batch_id IS NULL) <> (NEW.kind IN ('hold', 'day') OR
                (NEW.batch_id IS NULL AND NEW.kind IN ('note', 'cleaning', 'picture')))
        THEN
            RAISE EXCEPTION 'such an entry cannot be';
        END IF;
    ELSE
        SELECT coalesce(max(id), 0) INTO NEW.id FROM calibrations;
    END IF;
    NEW.id := NEW.id + 1;
    RETURN NEW;
END $$
"""

_OPEN_PART = """
CREATE FUNCTION snapcurve_open_part() RETURNS trigger
{definer} AS $$
DECLARE
    its_batch integer;
BEGIN
    IF TG_TABLE_NAME = 'words' THEN
        -- the owner indexes what is older than the index
        IF session_user =
            (SELECT pg_get_userbyid(relowner) FROM pg_class WHERE oid = TG_RELID)
        THEN
            RETURN NEW;
        END IF;
        IF char_length(NEW.field) > 20 OR char_length(NEW.word) > 100
            OR NEW.newest_unix_ms IS DISTINCT FROM (
                SELECT coalesce(started_unix_ms, created_unix_ms) FROM batches
                WHERE id = NEW.batch_id)
            OR NOT (snapcurve_is_open('batch', NEW.batch_id) OR EXISTS (
                SELECT FROM entries WHERE batch_id = NEW.batch_id
                    AND xmin::text = (txid_current() & 4294967295)::text
                    AND snapcurve_is_open('entry', id)))
        THEN
            RAISE EXCEPTION 'only what is being filed may be indexed';
        END IF;
        RETURN NEW;
    ELSIF TG_TABLE_NAME = 'pictures' THEN
        IF NOT snapcurve_is_open('entry', NEW.entry_id) THEN
            RAISE EXCEPTION 'only what is being filed may be added to';
        END IF;
        IF NEW.sha256 <> encode(sha256(NEW.content), 'hex')
            OR octet_length(NEW.content) > 33554432
        THEN
            RAISE EXCEPTION 'the picture does not fit its digest';
        END IF;
        SELECT coalesce(max(id), 0) + 1 INTO NEW.id FROM pictures;
    ELSIF TG_TABLE_NAME = 'lots' THEN
        IF NEW.entry_id IS NOT NULL THEN
            SELECT batch_id INTO its_batch FROM entries
            WHERE id = NEW.entry_id AND kind = 'lot' AND snapcurve_is_open('entry', id);
        ELSIF snapcurve_is_open('batch', NEW.batch_id) THEN
            its_batch := NEW.batch_id;
        END IF;
        IF its_batch IS DISTINCT FROM NEW.batch_id THEN
            RAISE EXCEPTION 'only what is being filed may be added to';
        END IF;
        PERFORM NEW.best_before::date;
        IF NOT snapcurve_fits(NEW.allergens::jsonb, 'words')
            OR NEW.best_before !~ '^[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}$'
        THEN
            RAISE EXCEPTION 'such a lot cannot be';
        END IF;
        SELECT coalesce(max(id), 0) + 1 INTO NEW.id FROM lots;
    ELSE
        IF NOT snapcurve_is_open('batch', NEW.batch_id) THEN
            RAISE EXCEPTION 'only what is being filed may be added to';
        END IF;
        IF TG_TABLE_NAME = 'curves' THEN
            IF NEW.size <> octet_length(NEW.raw) OR NEW.crc <> snapcurve_crc32(NEW.raw)
                OR NEW.size > 16777216
            THEN
                RAISE EXCEPTION 'the curve does not fit its CRC-32';
            END IF;
            SELECT coalesce(max(id), 0) + 1 INTO NEW.id FROM curves;
        ELSIF TG_TABLE_NAME = 'marks' THEN
            SELECT coalesce(max(id), 0) + 1 INTO NEW.id FROM marks;
        ELSE
            SELECT coalesce(max(id), 0) + 1 INTO NEW.id FROM alarms;
        END IF;
    END IF;
    RETURN NEW;
END $$
"""

_SEAL = """
CREATE FUNCTION snapcurve_seal(its_kind text, wanted integer) RETURNS void
{definer} AS $$
DECLARE
    before record;
    its_name text;
    digests text;
    moment bigint := floor(extract(epoch FROM clock_timestamp()) * 1000);
    its_hash text;
    curves_there integer;
BEGIN
    SELECT * INTO before FROM snapcurve_lock();
    IF its_kind NOT IN ('batch', 'entry', 'calibration') OR NOT snapcurve_is_open(its_kind, wanted)
    THEN
        RAISE EXCEPTION 'only what is being filed is sealed';
    END IF;
    {digests}
    IF its_kind = 'batch' THEN
        SELECT count(*) INTO curves_there FROM curves WHERE batch_id = wanted;
        IF curves_there <> 1 THEN
            RAISE EXCEPTION 'a batch has one curve';
        END IF;
        SELECT day || '-' || lpad(day_number::text, greatest(2, length(day_number::text)), '0')
        INTO its_name FROM batches WHERE id = wanted;
    ELSIF its_kind = 'entry' THEN
        SELECT coalesce((SELECT day || '-' ||
            lpad(day_number::text, greatest(2, length(day_number::text)), '0')
            FROM batches b WHERE b.id = e.batch_id), '')
        INTO its_name FROM entries e WHERE e.id = wanted;
        IF EXISTS (SELECT FROM entries WHERE id = wanted AND kind = 'lot') AND
            (SELECT count(*) FROM lots WHERE entry_id = wanted) <> 1
            OR EXISTS (SELECT FROM entries WHERE id = wanted AND kind = 'picture') AND
            (SELECT count(*) FROM pictures WHERE entry_id = wanted) <> 1
        THEN
            RAISE EXCEPTION 'the entry is not whole';
        END IF;
    ELSE
        SELECT 'board ' || board_id INTO its_name FROM calibrations WHERE id = wanted;
    END IF;
    its_hash := encode(sha256(
        snapcurve_value('t', NULL, before.hash, NULL)
        || snapcurve_value('t', NULL, 'snapcurve', NULL)
        || snapcurve_value('i', before.number + 1, NULL, NULL)
        || snapcurve_value('t', NULL, its_kind, NULL)
        || snapcurve_value('i', wanted, NULL, NULL)
        || snapcurve_value('t', NULL, its_name, NULL)
        || snapcurve_value('i', {form}, NULL, NULL)
        || snapcurve_value('i', 0, NULL, NULL)
        || snapcurve_value('i', moment, NULL, NULL)
        || snapcurve_value('t', NULL, digests, NULL)
        || snapcurve_value('t', NULL, session_user::text, NULL)), 'hex');
    INSERT INTO seals
        (number, kind, item_id, name, form, late, sealed_unix_ms, digests, filed_by, hash)
    VALUES (before.number + 1, its_kind, wanted, its_name, {form}, false, moment, digests,
        session_user::text, its_hash);
    UPDATE seal_head SET number = before.number + 1, hash = its_hash;
END $$
"""

_SEALED = """
CREATE FUNCTION snapcurve_sealed() RETURNS trigger
{definer} AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM seals WHERE kind = TG_ARGV[0] AND item_id = NEW.id) THEN
        RAISE EXCEPTION 'what is filed is sealed';
    END IF;
    RETURN NULL;
END $$
"""

# Logins of earlier versions could write seals; what they may now, roles.sql says.
_RIGHTS = """
DO $$
DECLARE
    its record;
BEGIN
    FOR its IN
        SELECT DISTINCT grantee, table_name FROM information_schema.role_table_grants
        WHERE table_schema = current_schema() AND grantee <> current_user
            AND table_name IN ('seals', 'seal_head') AND privilege_type IN ('INSERT', 'UPDATE')
    LOOP
        EXECUTE 'REVOKE INSERT, UPDATE ON ' || quote_ident(its.table_name) || ' FROM '
            || quote_ident(its.grantee);
        EXECUTE 'GRANT EXECUTE ON FUNCTION snapcurve_lock(), snapcurve_seal(text, integer) TO '
            || quote_ident(its.grantee);
    END LOOP;
END $$
"""


def _row_bytes(columns: str) -> str:
    """SQL for the bytes of a row."""
    parts = []
    for column in columns.split():
        name, kind = column.split(":")
        parts.append(
            {
                _INT: f"snapcurve_value('i', {name}, NULL, NULL)",
                _TRUTH: f"snapcurve_value('i', {name}::integer, NULL, NULL)",
                _TEXT: f"snapcurve_value('t', NULL, {name}, NULL)",
                _BYTES: f"snapcurve_value('b', NULL, NULL, {name})",
            }[kind]
        )
    return " || ".join(parts)


def _digests() -> str:
    """Statements that work out the digests of an item, by its kind."""
    branches = []
    for kind, tables in _ITEMS.items():
        parts = [
            f"""'{name}=' || (SELECT encode(sha256(convert_to(
                'snapcurve:{_FORM}:{name}:' || count(*) || ':', 'UTF8')
                || coalesce(string_agg({_row_bytes(columns)}, ''::bytea ORDER BY id), ''::bytea)
                ), 'hex') FROM {name} WHERE {condition})"""
            for name, columns, condition in tables
        ]
        branches.append(f"IF its_kind = '{kind}' THEN digests := " + " || ' ' || ".join(parts))
    return "; ELS".join(branches) + "; END IF;"


def _postgresql() -> list[str]:
    schema = op.get_bind().scalar(sa.text("SELECT quote_ident(current_schema())"))
    definer = _DEFINER.format(schema=schema)
    made = [
        _BYTES_OF,
        _CRC,
        _LOCK.format(definer=definer),
        _MINE.format(definer=definer),
        _FITS,
        _PAYLOAD.format(
            schema=schema,
            payloads=json.dumps(_PAYLOADS),
            amendable=json.dumps(_AMENDABLE),
            day="^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
        ),
        _OPEN_ITEM.format(definer=definer, ms_max=_MS_MAX),
        _OPEN_PART.format(definer=definer),
        _SEAL.format(definer=definer, digests=_digests(), form=_FORM),
        _SEALED.format(definer=definer),
        "REVOKE EXECUTE ON FUNCTION snapcurve_lock(), snapcurve_seal(text, integer),"
        " snapcurve_is_open(text, integer), snapcurve_check_payload(text, text),"
        " snapcurve_crc32(bytea), snapcurve_open_item(), snapcurve_open_part(),"
        " snapcurve_sealed() FROM PUBLIC",
    ]
    for table in _NUMBERED:
        made.append(f"ALTER TABLE {table} ALTER COLUMN id DROP DEFAULT")
        made.append(f"DROP SEQUENCE IF EXISTS {table}_id_seq")
    for table, kind in (
        ("batches", "batch"),
        ("entries", "entry"),
        ("calibrations", "calibration"),
    ):
        made.append(
            f"CREATE TRIGGER {table}_opened BEFORE INSERT ON {table} FOR EACH ROW"
            " EXECUTE FUNCTION snapcurve_open_item()"
        )
        made.append(
            f"CREATE CONSTRAINT TRIGGER {table}_sealed AFTER INSERT ON {table}"
            " DEFERRABLE INITIALLY DEFERRED FOR EACH ROW"
            f" EXECUTE FUNCTION snapcurve_sealed('{kind}')"
        )
    for table in ("curves", "marks", "alarms", "lots", "pictures", "words"):
        made.append(
            f"CREATE TRIGGER {table}_opened BEFORE INSERT ON {table} FOR EACH ROW"
            " EXECUTE FUNCTION snapcurve_open_part()"
        )
    return [*made, _RIGHTS]


def upgrade() -> None:
    op.add_column("seals", sa.Column("filed_by", sa.Text))
    if op.get_bind().dialect.name == "postgresql":
        for statement in _postgresql():
            op.get_bind().exec_driver_sql(statement)

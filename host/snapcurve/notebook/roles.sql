-- What an administrator of the PostgreSQL server runs in the notebook's database, once after its owner
-- has opened the notebook and after each update that says so:
--     psql -d notebook -v ON_ERROR_STOP=1 -f roles.sql
-- It may be run again. Afterwards give each bench a login of its own, as at the end.

-- The group that all benches are in. It reads everything; it files by the functions of the notebook's
-- owner, which seal; it can write no seal, change nothing and delete nothing.
DO $$
DECLARE
    owner name := (SELECT tableowner FROM pg_tables
                   WHERE tablename = 'seal_head' AND schemaname = current_schema());
BEGIN
    IF owner IS NULL THEN
        RAISE EXCEPTION 'there is no notebook here: its owner opens it first';
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'snapcurve_bench') THEN
        CREATE ROLE snapcurve_bench NOLOGIN;
    END IF;
    -- The owner's functions end a login that holds the notebook up for more than five seconds.
    EXECUTE format('GRANT pg_signal_backend, pg_read_all_stats TO %I', owner);
    -- Nobody else makes anything here, not even for the time of a connection.
    EXECUTE format('REVOKE CREATE, TEMPORARY ON DATABASE %I FROM PUBLIC', current_database());
    EXECUTE format('REVOKE CREATE ON SCHEMA %I FROM PUBLIC', current_schema());
END $$;

REVOKE ALL ON ALL TABLES IN SCHEMA public FROM PUBLIC, snapcurve_bench;
GRANT SELECT ON ALL TABLES IN SCHEMA public TO snapcurve_bench;
GRANT INSERT ON batches, curves, marks, alarms, lots, entries, pictures, calibrations, words
    TO snapcurve_bench;
GRANT EXECUTE ON FUNCTION snapcurve_lock(), snapcurve_seal(text, integer) TO snapcurve_bench;

-- Locks that any login may take, and large objects, are of no use to a notebook.
DO $$
DECLARE
    its regprocedure;
BEGIN
    FOR its IN
        SELECT oid::regprocedure FROM pg_proc
        WHERE pronamespace = 'pg_catalog'::regnamespace
            AND (proname LIKE 'pg\_advisory%' OR proname LIKE 'pg\_try\_advisory%'
                OR proname IN ('lo_create', 'lo_creat', 'lo_from_bytea', 'lo_put', 'lowrite'))
    LOOP
        EXECUTE format('REVOKE EXECUTE ON FUNCTION %s FROM PUBLIC', its);
    END LOOP;
    -- of two programs of the owner's that start at once, one updates the notebook
    EXECUTE format('GRANT EXECUTE ON FUNCTION pg_advisory_xact_lock(bigint) TO %I',
        (SELECT tableowner FROM pg_tables
         WHERE tablename = 'seal_head' AND schemaname = current_schema()));
END $$;

-- For each bench, with a name and a password of its own:
--     CREATE ROLE bench_window LOGIN PASSWORD 'choose-your-own' CONNECTION LIMIT 10
--         IN ROLE snapcurve_bench;
--     ALTER ROLE bench_window SET statement_timeout = '60s';
--     ALTER ROLE bench_window SET lock_timeout = '5s';
--     ALTER ROLE bench_window SET idle_in_transaction_session_timeout = '5s';

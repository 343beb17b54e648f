"""Several connections of one login that hold a server's notebook up in turn are ended together.

Before, each that waited five seconds ended one of them, and the next took its place.
"""

from alembic import op

revision = "0007"
down_revision = "0006"

# A login that files holds the row of seal_head. One that holds it for longer than five seconds is
# ended, and with it all connections of that login which stand in the queue: with ten of them
# the others would wait ten times five seconds. The one that waits is in the queue again at once,
# before any of them can connect anew. Of one's own login only the connection that holds it is
# ended: the rest are other programs of the same bench, which wait too.
_LOCK = """
CREATE OR REPLACE FUNCTION snapcurve_lock() RETURNS TABLE (number integer, hash text)
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, {schema}, pg_temp AS $$
DECLARE
    ended boolean;
BEGIN
    FOR round IN 1 .. 4 LOOP
        BEGIN
            RETURN QUERY SELECT h.number, h.hash FROM seal_head h FOR UPDATE;
            RETURN;
        EXCEPTION WHEN lock_not_available THEN
            IF round = 4 OR NOT (pg_has_role(current_user, 'pg_signal_backend', 'MEMBER')
                    AND pg_has_role(current_user, 'pg_read_all_stats', 'MEMBER')) THEN
                RAISE;
            END IF;
            PERFORM pg_stat_clear_snapshot();
            WITH filing AS (
                SELECT a.pid, a.usename, a.wait_event_type IS DISTINCT FROM 'Lock'
                    AND a.xact_start < clock_timestamp() - interval '4.5 seconds' AS holds
                FROM pg_stat_activity a JOIN pg_locks l ON l.pid = a.pid
                WHERE l.relation = 'seal_head'::regclass AND l.granted
                    AND l.mode = 'RowShareLock' AND a.pid <> pg_backend_pid()
            )
            SELECT bool_or(pg_terminate_backend(f.pid)) INTO ended FROM filing f
            WHERE f.holds OR f.usename <> session_user
                AND f.usename IN (SELECT h.usename FROM filing h WHERE h.holds);
            IF ended IS NOT TRUE THEN
                RAISE;
            END IF;
        END;
    END LOOP;
END $$
"""


def upgrade() -> None:
    connection = op.get_bind()
    if connection.dialect.name == "postgresql":
        schema = connection.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
        connection.exec_driver_sql(_LOCK.format(schema=schema))

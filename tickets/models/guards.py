"""SQL by which the database itself refuses to change the evidence log.

SQLite's INSERT OR REPLACE deletes without firing a delete trigger, hence the insert guard; it also
refuses an entry that does not stand on the one before, so that a chain cannot fork.
"""

from __future__ import annotations

TABLE = "tickets_evidenceentry"
REFUSAL = "the evidence log is append-only"
BREAK = "an evidence entry must carry the hash of the one before"

SQLITE_CREATE = (
    f"""CREATE TRIGGER evidence_no_update BEFORE UPDATE ON {TABLE}
        BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END""",
    f"""CREATE TRIGGER evidence_no_delete BEFORE DELETE ON {TABLE}
        BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END""",
    f"""CREATE TRIGGER evidence_chained BEFORE INSERT ON {TABLE}
        BEGIN
          SELECT RAISE(ABORT, '{REFUSAL}') WHERE EXISTS (
            SELECT 1 FROM {TABLE} WHERE id = NEW.id
              OR (job_id = NEW.job_id AND sequence >= NEW.sequence));
          SELECT RAISE(ABORT, '{BREAK}') WHERE NEW.previous_hash IS NOT COALESCE(
            (SELECT hash FROM {TABLE} WHERE job_id = NEW.job_id AND sequence = NEW.sequence - 1),
            CASE WHEN NEW.sequence = 1 THEN '{"0" * 64}' END);
        END""",
)
SQLITE_DROP = tuple(
    f"DROP TRIGGER IF EXISTS {name}" for name in ("evidence_no_update", "evidence_no_delete", "evidence_chained")
)
POSTGRESQL_CREATE = (
    f"""CREATE FUNCTION evidence_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation'; END $$""",
    f"""CREATE FUNCTION evidence_chain() RETURNS trigger LANGUAGE plpgsql AS $$
        DECLARE before_it text;
        BEGIN
          IF EXISTS (SELECT 1 FROM {TABLE} WHERE job_id = NEW.job_id AND sequence >= NEW.sequence) THEN
            RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation';
          END IF;
          IF NEW.sequence = 1 THEN before_it := '{"0" * 64}';
          ELSE SELECT hash INTO before_it FROM {TABLE}
                 WHERE job_id = NEW.job_id AND sequence = NEW.sequence - 1;
          END IF;
          IF NEW.previous_hash IS DISTINCT FROM before_it THEN
            RAISE EXCEPTION '{BREAK}' USING ERRCODE = 'restrict_violation';
          END IF;
          RETURN NEW;
        END $$""",
    f"""CREATE TRIGGER evidence_no_change BEFORE UPDATE OR DELETE ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION evidence_refuse()""",
    f"""CREATE TRIGGER evidence_no_truncate BEFORE TRUNCATE ON {TABLE}
        FOR EACH STATEMENT EXECUTE FUNCTION evidence_refuse()""",
    f"""CREATE TRIGGER evidence_chained BEFORE INSERT ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION evidence_chain()""",
)
POSTGRESQL_DROP = (
    *(
        f"DROP TRIGGER IF EXISTS {name} ON {TABLE}"
        for name in ("evidence_no_change", "evidence_no_truncate", "evidence_chained")
    ),
    "DROP FUNCTION IF EXISTS evidence_refuse()",
    "DROP FUNCTION IF EXISTS evidence_chain()",
)


def guard_sql(vendor: str) -> tuple[str, ...]:
    """Statements that put the guards up. Raises as `statements_for`."""
    return statements_for(vendor, SQLITE_CREATE, POSTGRESQL_CREATE)


def unguard_sql(vendor: str) -> tuple[str, ...]:
    """Statements that take the guards down, for the migration's way back and for emptying test tables."""
    return statements_for(vendor, SQLITE_DROP, POSTGRESQL_DROP)


def statements_for(vendor: str, sqlite: tuple[str, ...], postgresql: tuple[str, ...]) -> tuple[str, ...]:
    """The statements of the database in use. Raises ValueError for one that none are written for."""
    if vendor not in {"sqlite", "postgresql"}:
        raise ValueError(f"No guard is written for {vendor}; use SQLite or PostgreSQL.")
    return sqlite if vendor == "sqlite" else postgresql

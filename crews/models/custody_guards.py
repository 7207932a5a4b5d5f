"""SQL by which the database itself holds an item's stays end to end: no gap, no overlap, no rewriting."""

from __future__ import annotations

from tickets.models.guards import statements_for

TABLE = "crews_custodyevent"
BREAK = "a stay must begin where the one before it ends"
REFUSAL = "a custody event cannot be rewritten"
_FIXED = ("item_id", "sequence", "step", "at", "place", "crew_id", "person_id", "spot")

SQLITE_CREATE = (
    f"""CREATE TRIGGER custody_end_to_end BEFORE INSERT ON {TABLE}
        WHEN NEW.sequence > 1 AND NOT EXISTS (
          SELECT 1 FROM {TABLE} WHERE item_id = NEW.item_id AND sequence = NEW.sequence - 1 AND until = NEW.at)
        BEGIN SELECT RAISE(ABORT, '{BREAK}'); END""",
    f"""CREATE TRIGGER custody_no_rewrite BEFORE UPDATE ON {TABLE}
        WHEN {" OR ".join(f"NEW.{name} IS NOT OLD.{name}" for name in _FIXED)}
          OR (OLD.until IS NOT NULL AND NEW.until IS NOT OLD.until)
        BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END""",
)
SQLITE_DROP = ("DROP TRIGGER IF EXISTS custody_end_to_end", "DROP TRIGGER IF EXISTS custody_no_rewrite")
POSTGRESQL_CREATE = (
    f"""CREATE FUNCTION custody_chain() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
          IF NEW.sequence > 1 AND NOT EXISTS (
            SELECT 1 FROM {TABLE} WHERE item_id = NEW.item_id AND sequence = NEW.sequence - 1 AND until = NEW.at)
          THEN RAISE EXCEPTION '{BREAK}' USING ERRCODE = 'check_violation';
          END IF;
          RETURN NEW;
        END $$""",
    f"""CREATE FUNCTION custody_keep() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
          IF {" OR ".join(f"NEW.{name} IS DISTINCT FROM OLD.{name}" for name in _FIXED)}
            OR (OLD.until IS NOT NULL AND NEW.until IS DISTINCT FROM OLD.until)
          THEN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation';
          END IF;
          RETURN NEW;
        END $$""",
    f"""CREATE TRIGGER custody_end_to_end BEFORE INSERT ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION custody_chain()""",
    f"""CREATE TRIGGER custody_no_rewrite BEFORE UPDATE ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION custody_keep()""",
)
POSTGRESQL_DROP = (
    f"DROP TRIGGER IF EXISTS custody_end_to_end ON {TABLE}",
    f"DROP TRIGGER IF EXISTS custody_no_rewrite ON {TABLE}",
    "DROP FUNCTION IF EXISTS custody_chain()",
    "DROP FUNCTION IF EXISTS custody_keep()",
)


def guard_sql(vendor: str) -> tuple[str, ...]:
    """Statements that put the guards up."""
    return statements_for(vendor, SQLITE_CREATE, POSTGRESQL_CREATE)


def unguard_sql(vendor: str) -> tuple[str, ...]:
    """Statements that take them down."""
    return statements_for(vendor, SQLITE_DROP, POSTGRESQL_DROP)

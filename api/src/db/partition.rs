//! Tables split by club, on an empty PostgreSQL database: each table that has a club gets as many parts as asked for, by
//! the hash of its club. The migrations stay the same: what they made is made anew in parts.

use diesel::connection::SimpleConnection as _;

use super::conn::{Db, OpenError};

/// Every key, index and reference is taken from the catalogue, so that a table of a later migration is split like the
/// others. A key that leaves the club out cannot be one of a table in parts and becomes an index.
const SPLIT: &str = "
DO $$
DECLARE
    whole record;
    hanging record;
    is_filled boolean;
BEGIN
    CREATE TEMP TABLE wholes ON COMMIT DROP AS
        SELECT c.oid AS id, c.relname::text AS name,
            CASE c.relname WHEN 'clubs' THEN 'id' ELSE 'club_id' END AS key
        FROM pg_class c
        WHERE c.relnamespace = current_schema()::regnamespace AND c.relkind = 'r' AND NOT c.relispartition
            AND (c.relname = 'clubs' OR EXISTS (
                SELECT FROM pg_attribute a
                WHERE a.attrelid = c.oid AND a.attname = 'club_id' AND NOT a.attisdropped));
    FOR whole IN SELECT * FROM wholes LOOP
        EXECUTE format('SELECT EXISTS (SELECT FROM %I)', whole.name) INTO is_filled;
        IF is_filled THEN
            RAISE EXCEPTION 'the table % holds something already: only an empty database can be split', whole.name;
        END IF;
    END LOOP;

    CREATE TEMP TABLE hangings ON COMMIT DROP AS
        SELECT w.name, k.contype::text AS kind, k.conname::text AS called, pg_get_constraintdef(k.oid) AS said,
            EXISTS (SELECT FROM pg_attribute a
                WHERE a.attrelid = w.id AND a.attname = w.key AND a.attnum = ANY (k.conkey)) AS has_key
        FROM pg_constraint k JOIN wholes w ON w.id = k.conrelid WHERE k.contype IN ('p', 'u', 'f')
        UNION ALL
        SELECT w.name, 'i', NULL, pg_get_indexdef(i.indexrelid), true
        FROM pg_index i JOIN wholes w ON w.id = i.indrelid
        WHERE NOT EXISTS (SELECT FROM pg_constraint k WHERE k.conindid = i.indexrelid);
    FOR hanging IN SELECT * FROM hangings WHERE kind = 'f' LOOP
        EXECUTE format('ALTER TABLE %I DROP CONSTRAINT %I', hanging.name, hanging.called);
    END LOOP;

    FOR whole IN SELECT * FROM wholes LOOP
        EXECUTE format('CREATE TABLE in_parts (LIKE %I INCLUDING DEFAULTS INCLUDING CONSTRAINTS) PARTITION BY HASH (%I)',
            whole.name, whole.key);
        EXECUTE format('DROP TABLE %I', whole.name);
        EXECUTE format('ALTER TABLE in_parts RENAME TO %I', whole.name);
        FOR number IN 0 .. {parts} - 1 LOOP
            EXECUTE format('CREATE TABLE %I PARTITION OF %I FOR VALUES WITH (MODULUS {parts}, REMAINDER %s)',
                whole.name || '_p' || number, whole.name, number);
        END LOOP;
    END LOOP;

    -- Keys before the references to them.
    FOR hanging IN SELECT * FROM hangings ORDER BY kind = 'f' LOOP
        IF hanging.kind = 'i' THEN
            EXECUTE hanging.said;
        ELSIF hanging.has_key THEN
            EXECUTE format('ALTER TABLE %I ADD CONSTRAINT %I %s', hanging.name, hanging.called, hanging.said);
        ELSE
            EXECUTE format('CREATE INDEX ON %I %s', hanging.name, replace(hanging.said, 'UNIQUE ', ''));
        END IF;
    END LOOP;
END $$";

/// Splits all tables of an empty database that have a club, and are not split yet, into so many parts.
pub fn split(conn: &mut Db, parts: u16) -> Result<(), OpenError> {
    match conn {
        Db::Postgres(inner) => inner
            .batch_execute(&SPLIT.replace("{parts}", &parts.to_string()))
            .map_err(|error| OpenError::Other(error.to_string())),
        Db::Sqlite(_) => {
            Err(OpenError::Other("tables of a file are not split: --partitions is for PostgreSQL".to_owned()))
        }
    }
}

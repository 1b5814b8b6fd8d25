"""The database's own refusal to change the trail, beneath everything this program may do wrong.

Statements a vendor, in the order they are run; ``DOWN`` undoes ``UP``. Emptying the tables between two tests
needs the statements of ``EMPTYING_DOWN``: only the test database ever sees them.
"""

UP = {
    "postgresql": (
        """
        CREATE FUNCTION access_trail_is_final() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            RAISE EXCEPTION 'The trail is never changed: % refused.', TG_OP USING ERRCODE = '42501';
        END $$
        """,
        """
        CREATE TRIGGER trail_row_is_final BEFORE UPDATE OR DELETE ON access_trailrow
        FOR EACH ROW EXECUTE FUNCTION access_trail_is_final()
        """,
        """
        CREATE TRIGGER trail_is_not_emptied BEFORE TRUNCATE ON access_trailrow
        FOR EACH STATEMENT EXECUTE FUNCTION access_trail_is_final()
        """,
    ),
    "sqlite": (
        """
        CREATE TRIGGER trail_row_is_not_changed BEFORE UPDATE ON access_trailrow
        BEGIN SELECT RAISE(ABORT, 'The trail is never changed: UPDATE refused.'); END
        """,
        """
        CREATE TRIGGER trail_is_not_emptied BEFORE DELETE ON access_trailrow
        BEGIN SELECT RAISE(ABORT, 'The trail is never changed: DELETE refused.'); END
        """,
    ),
}

DOWN = {
    "postgresql": (
        "DROP TRIGGER trail_is_not_emptied ON access_trailrow",
        "DROP TRIGGER trail_row_is_final ON access_trailrow",
        "DROP FUNCTION access_trail_is_final()",
    ),
    "sqlite": ("DROP TRIGGER trail_is_not_emptied", "DROP TRIGGER trail_row_is_not_changed"),
}

EMPTYING_DOWN = {
    "postgresql": ("DROP TRIGGER IF EXISTS trail_is_not_emptied ON access_trailrow",),
    "sqlite": ("DROP TRIGGER IF EXISTS trail_is_not_emptied",),
}
EMPTYING_UP = {vendor: statements[-1:] for vendor, statements in UP.items()}

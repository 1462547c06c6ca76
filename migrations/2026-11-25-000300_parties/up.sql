CREATE TABLE parties (
    books_id uuid NOT NULL REFERENCES books,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    role text NOT NULL CHECK (role IN ('vendor', 'sponsor', 'platform', 'helper', 'buyer', 'agency', 'family', 'other')),
    PRIMARY KEY (books_id, id)
);
COMMENT ON TABLE parties IS 'Anyone money passes to or from.';
CALL fence_append_only('parties');

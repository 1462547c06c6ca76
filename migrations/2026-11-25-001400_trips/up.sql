CREATE TABLE trips (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    vehicle text NOT NULL CHECK (vehicle <> ''),
    distance quantity_amount NOT NULL CHECK (distance > 0),
    unit text NOT NULL CHECK (unit IN ('mile', 'kilometre')),
    purpose text NOT NULL CHECK (purpose <> ''),
    rate quantity_amount NOT NULL CHECK (rate >= 0),
    amount money_amount NOT NULL CHECK (amount >= 0),
    PRIMARY KEY (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE trips IS 'Business miles or kilometres with a purpose, at the standard rate.';
CALL fence_append_only('trips');

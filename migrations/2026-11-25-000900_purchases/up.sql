CREATE TABLE purchase_lines (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    position int NOT NULL CHECK (position >= 0),
    part int NOT NULL CHECK (part >= 0),
    text text NOT NULL,
    source_id uuid NOT NULL,
    amount money_amount NOT NULL,
    vehicle text CHECK (vehicle <> ''),
    PRIMARY KEY (books_id, record_id, position, part),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, source_id) REFERENCES sources (books_id, id)
);
COMMENT ON TABLE purchase_lines IS 'The lines of a receipt after tax, delivery and discount were spread over them.';
COMMENT ON COLUMN purchase_lines.part IS 'Zero, or counted on where one line of the receipt is several tools.';
COMMENT ON COLUMN purchase_lines.vehicle IS 'Whose actual cost it is; such a vehicle has no trips at the standard rate in that year.';
CALL fence_append_only('purchase_lines');

CREATE TABLE purchase_line_treatments (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    position int NOT NULL,
    part int NOT NULL,
    place int NOT NULL,
    treatment text NOT NULL,
    amount money_amount NOT NULL,
    PRIMARY KEY (books_id, record_id, position, part, place),
    FOREIGN KEY (books_id, record_id, position, part)
        REFERENCES purchase_lines (books_id, record_id, position, part)
);
COMMENT ON TABLE purchase_line_treatments IS 'What each share of a line is to the tax office.';
CALL fence_append_only('purchase_line_treatments');

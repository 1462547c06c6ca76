CREATE TABLE gifts (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    place int NOT NULL,
    gift_id uuid NOT NULL,
    party_id uuid NOT NULL,
    what text NOT NULL CHECK (what <> ''),
    relation text NOT NULL CHECK (relation IN ('promotion', 'loan', 'unsolicited_brand_goods', 'personal_gift')),
    received_on date NOT NULL,
    value money_amount CHECK (value >= 0),
    evidence text,
    fate text NOT NULL CHECK (fate IN ('kept_for_business', 'kept_personally', 'returned', 'given_away', 'undecided')),
    fate_on date,
    source_id uuid,
    PRIMARY KEY (books_id, record_id, place),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, gift_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, party_id) REFERENCES parties (books_id, id),
    FOREIGN KEY (books_id, source_id) REFERENCES sources (books_id, id)
);
COMMENT ON TABLE gifts IS 'Goods received: a row as they came, and one more for each later decision on their fate.';
COMMENT ON COLUMN gifts.gift_id IS 'The record that brought the goods; the newest row of a gift says what it is now.';
COMMENT ON COLUMN gifts.value IS 'Fair value; NULL means nobody has valued it yet.';
CALL fence_append_only('gifts');

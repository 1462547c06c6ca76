CREATE TABLE money_accounts (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    kind text NOT NULL CHECK (kind IN ('bank', 'card', 'cash', 'own_pocket', 'store_credit', 'platform')),
    currency text NOT NULL CHECK (currency ~ '^[A-Z]{3}$'),
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE money_accounts IS 'Where money sits; each but the own pocket has an account in the journal, named money and its id.';
CALL fence_append_only('money_accounts');

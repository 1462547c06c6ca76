CREATE TABLE pieces (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    source_id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    origin text NOT NULL CHECK (origin IN ('bought', 'already_owned', 'found', 'gifted', 'built', 'swapped')),
    purpose text NOT NULL CHECK (purpose IN ('resale', 'set', 'personal')),
    acquired_on date NOT NULL,
    basis money_amount CHECK (basis >= 0),
    value money_amount CHECK (value >= 0),
    treatment text NOT NULL,
    episode_id uuid,
    project_id uuid,
    PRIMARY KEY (books_id, id),
    CHECK (num_nonnulls(episode_id, project_id) <= 1),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, source_id) REFERENCES sources (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id)
);
COMMENT ON TABLE pieces IS 'Pieces of furniture.';
COMMENT ON COLUMN pieces.basis IS 'What the piece cost on the day it came; NULL means that nobody knows, which is never zero.';
COMMENT ON COLUMN pieces.value IS 'What the piece would have fetched on the day it was given or brought into the business.';
CALL fence_append_only('pieces');

CREATE TABLE piece_sales (
    books_id uuid NOT NULL,
    piece_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    gross money_amount NOT NULL CHECK (gross > 0),
    fees money_amount NOT NULL CHECK (fees BETWEEN 0 AND gross),
    basis money_amount,
    basis_for_loss money_amount CHECK (basis_for_loss < basis),
    character text NOT NULL CHECK (character IN ('stock_in_trade', 'personal_property', 'business_property')),
    PRIMARY KEY (books_id, piece_id, record_id),
    FOREIGN KEY (books_id, piece_id) REFERENCES pieces (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE piece_sales IS 'The sale of a piece; once, unless it was reversed.';
COMMENT ON COLUMN piece_sales.basis_for_loss IS 'The lower basis that counts for a loss only; NULL where there is one basis for both.';
CALL fence_append_only('piece_sales');

CREATE TABLE piece_leavings (
    books_id uuid NOT NULL,
    piece_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    how text NOT NULL
        CHECK (how IN ('taken_apart', 'given_away', 'donated', 'dumped', 'lost', 'taken_home', 'brought_in')),
    cost money_amount NOT NULL CHECK (cost >= 0),
    PRIMARY KEY (books_id, piece_id, record_id),
    FOREIGN KEY (books_id, piece_id) REFERENCES pieces (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE piece_leavings IS 'How a piece left without a sale; once, unless it was reversed.';
COMMENT ON COLUMN piece_leavings.cost IS 'What left the pieces for resale with it.';
CALL fence_append_only('piece_leavings');

CREATE TABLE piece_refunds (
    books_id uuid NOT NULL,
    piece_id uuid NOT NULL,
    record_id uuid NOT NULL,
    sale_id uuid NOT NULL,
    date date NOT NULL,
    amount money_amount NOT NULL CHECK (amount > 0),
    fees_back money_amount NOT NULL CHECK (fees_back >= 0),
    back text NOT NULL CHECK (back IN ('kept_by_buyer', 'came_back')),
    PRIMARY KEY (books_id, piece_id, record_id),
    FOREIGN KEY (books_id, piece_id, sale_id) REFERENCES piece_sales (books_id, piece_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE piece_refunds IS 'What buyers got back after a sale, and whether the piece came back.';
CALL fence_append_only('piece_refunds');

CREATE TABLE piece_consignments (
    books_id uuid NOT NULL,
    piece_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    act text NOT NULL CHECK (act IN ('handed_over', 'fetched_back', 'sold_there')),
    shop_id uuid NOT NULL,
    commission numeric NOT NULL CHECK (commission BETWEEN 0 AND 100),
    PRIMARY KEY (books_id, piece_id, record_id),
    FOREIGN KEY (books_id, piece_id) REFERENCES pieces (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, shop_id) REFERENCES parties (books_id, id)
);
COMMENT ON TABLE piece_consignments IS 'Pieces in shops that sell them for a commission; they stay in these books.';
COMMENT ON COLUMN piece_consignments.commission IS 'The shop''s part of the price in percent.';
CALL fence_append_only('piece_consignments');

CREATE TABLE piece_deposits (
    books_id uuid NOT NULL,
    piece_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    act text NOT NULL CHECK (act IN ('taken', 'applied', 'kept', 'paid_back')),
    amount money_amount NOT NULL CHECK (amount > 0),
    PRIMARY KEY (books_id, piece_id, record_id),
    FOREIGN KEY (books_id, piece_id) REFERENCES pieces (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE piece_deposits IS 'What buyers put down on pieces, and what became of it.';
CALL fence_append_only('piece_deposits');

-- A deposit gives no more than it was: at the end of every transaction.
CREATE FUNCTION piece_deposit_holds() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (SELECT sum(CASE deposit.act WHEN 'taken' THEN deposit.amount ELSE -deposit.amount END)
        FROM piece_deposits deposit
        WHERE deposit.books_id = NEW.books_id AND deposit.piece_id = NEW.piece_id
          AND NOT EXISTS (SELECT FROM record_reversals r
                          WHERE r.books_id = deposit.books_id AND r.record_id = deposit.record_id)) < 0 THEN
        RAISE EXCEPTION 'the deposits on piece % give more than they were', NEW.piece_id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'piece_deposits_hold';
    END IF;
    RETURN NULL;
END
$$;
CREATE CONSTRAINT TRIGGER piece_deposit_holds AFTER INSERT ON piece_deposits DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION piece_deposit_holds();

-- Whether a record other than `but_for` sold the piece or let it go, and stands.
CREATE FUNCTION piece_is_gone(books uuid, piece uuid, but_for uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (
        SELECT FROM (
            SELECT sale.record_id FROM piece_sales sale
            WHERE sale.books_id = books AND sale.piece_id = piece
              AND NOT EXISTS (SELECT FROM piece_refunds refund
                              WHERE refund.books_id = books AND refund.piece_id = piece
                                AND refund.sale_id = sale.record_id AND refund.back = 'came_back'
                                AND NOT EXISTS (SELECT FROM record_reversals r
                                                WHERE r.books_id = books AND r.record_id = refund.record_id))
            UNION ALL
            SELECT leaving.record_id FROM piece_leavings leaving
            WHERE leaving.books_id = books AND leaving.piece_id = piece
        ) went
        WHERE went.record_id <> but_for
          AND NOT EXISTS (SELECT FROM record_reversals r
                          WHERE r.books_id = books AND r.record_id = went.record_id)
    )
$$;

-- A piece leaves once: another sale or leaving is allowed only when every earlier one was reversed or came back; never before it
-- came.
CREATE FUNCTION piece_sold_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF piece_is_gone(NEW.books_id, NEW.piece_id, NEW.record_id) THEN
        RAISE EXCEPTION 'piece % is gone already', NEW.piece_id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'pieces_sold_once';
    END IF;
    IF NEW.date < (SELECT acquired_on FROM pieces WHERE books_id = NEW.books_id AND id = NEW.piece_id) THEN
        RAISE EXCEPTION 'piece % is sold before it came', NEW.piece_id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'pieces_sold_after_they_came';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER piece_sold_once BEFORE INSERT ON piece_sales FOR EACH ROW EXECUTE FUNCTION piece_sold_once();
CREATE TRIGGER piece_sold_once BEFORE INSERT ON piece_leavings FOR EACH ROW EXECUTE FUNCTION piece_sold_once();

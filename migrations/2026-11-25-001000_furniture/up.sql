CREATE TABLE pieces (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    source_id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    origin text NOT NULL CHECK (origin IN ('bought', 'already_owned', 'found', 'gifted', 'built')),
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

-- A piece is sold once: another sale is allowed only when every earlier one was reversed; never before it came.
CREATE FUNCTION piece_sold_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (
        SELECT FROM piece_sales sale
        WHERE sale.books_id = NEW.books_id AND sale.piece_id = NEW.piece_id AND sale.record_id <> NEW.record_id
          AND NOT EXISTS (SELECT FROM record_reversals r
                          WHERE r.books_id = sale.books_id AND r.record_id = sale.record_id)
    ) THEN
        RAISE EXCEPTION 'piece % is sold already', NEW.piece_id
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

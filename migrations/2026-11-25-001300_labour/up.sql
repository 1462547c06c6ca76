CREATE TABLE labour_entries (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    person text NOT NULL CHECK (person <> ''),
    standing text NOT NULL CHECK (standing IN ('own', 'paid', 'volunteered')),
    date date NOT NULL,
    hours hours_amount NOT NULL CHECK (hours > 0),
    episode_id uuid,
    project_id uuid,
    piece_id uuid,
    paid money_amount NOT NULL CHECK (paid >= 0),
    PRIMARY KEY (books_id, record_id),
    CHECK (num_nonnulls(episode_id, project_id, piece_id) <= 1),
    CHECK (standing = 'paid' OR paid = 0),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id),
    FOREIGN KEY (books_id, piece_id) REFERENCES pieces (books_id, id)
);
COMMENT ON TABLE labour_entries IS 'Hours by a person; the owner''s own never enter the ledger.';
CREATE INDEX labour_by_episode ON labour_entries (books_id, episode_id) WHERE episode_id IS NOT NULL;
CALL fence_append_only('labour_entries');

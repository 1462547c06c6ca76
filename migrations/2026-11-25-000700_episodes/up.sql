CREATE TABLE episodes (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    project_id uuid NOT NULL,
    title text NOT NULL CHECK (title <> ''),
    planned_on date,
    published_on date,
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id)
);
COMMENT ON TABLE episodes IS 'One published or planned piece about a project: the cost object.';
CREATE INDEX episodes_of_project ON episodes (books_id, project_id);
CALL fence_append_only('episodes');

CREATE TABLE budget_lines (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    project_id uuid NOT NULL,
    episode_id uuid,
    category text NOT NULL,
    amount money_amount NOT NULL CHECK (amount >= 0),
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id)
);
COMMENT ON TABLE budget_lines IS 'What a project may cost, by category, with an episode named where wanted.';
CALL fence_append_only('budget_lines');

CREATE TABLE record_objects (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    place int NOT NULL,
    episode_id uuid,
    project_id uuid,
    PRIMARY KEY (books_id, record_id, place),
    CHECK (num_nonnulls(episode_id, project_id) = 1),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id)
);
COMMENT ON TABLE record_objects IS 'Which episodes and projects a record is about, for lists; amounts are in attributions.';
CREATE INDEX record_objects_by_episode ON record_objects (books_id, episode_id) WHERE episode_id IS NOT NULL;
CREATE INDEX record_objects_by_project ON record_objects (books_id, project_id) WHERE project_id IS NOT NULL;
CALL fence_append_only('record_objects');

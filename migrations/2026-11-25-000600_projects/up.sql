CREATE TABLE projects (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    place text NOT NULL CHECK (place IN ('own_home', 'home_office', 'rented_studio', 'somebody_elses', 'business_property')),
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE projects IS 'One renovation or makeover, which carries episodes and may carry costs of its own.';
CALL fence_append_only('projects');

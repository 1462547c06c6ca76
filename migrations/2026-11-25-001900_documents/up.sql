-- Files live beside their records: a record and its proof are one transaction, one backup and one fence.
CREATE TABLE document_files (
    books_id uuid NOT NULL REFERENCES books,
    sha256 bytea NOT NULL,
    bytes bytea NOT NULL CHECK (octet_length(bytes) BETWEEN 1 AND 10485760),
    PRIMARY KEY (books_id, sha256),
    CONSTRAINT document_files_are_what_they_were CHECK (sha256 = sha256(bytes))
);
-- Pictures are packed already: packing them again costs time and saves nothing.
ALTER TABLE document_files ALTER COLUMN bytes SET STORAGE EXTERNAL;
COMMENT ON TABLE document_files IS 'The bytes of documents under their SHA-256; the same file sent twice is kept once.';
COMMENT ON COLUMN document_files.bytes IS 'Read and checked against the sum on every way out.';
CALL fence_append_only('document_files');

CREATE TABLE documents (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    name text CHECK (length(name) BETWEEN 1 AND 200),
    kind text NOT NULL CHECK (kind IN ('application/pdf', 'image/jpeg', 'image/png', 'image/webp', 'image/heic')),
    width bigint CHECK (width > 0),
    height bigint CHECK (height > 0),
    location text NOT NULL CHECK (location IN ('none', 'removed', 'present', 'unknown')),
    received_on date NOT NULL,
    sha256 bytea NOT NULL,
    size int NOT NULL CHECK (size > 0),
    PRIMARY KEY (books_id, id),
    UNIQUE (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, sha256) REFERENCES document_files (books_id, sha256),
    CHECK ((width IS NULL) = (height IS NULL))
);
COMMENT ON TABLE documents IS 'Pictures and papers that prove records; those that prove none wait in the inbox.';
COMMENT ON COLUMN documents.kind IS 'The media type, told by the content.';
COMMENT ON COLUMN documents.location IS 'Whether the file says where it was made: removed before it was kept, present where it can not be removed.';
CREATE INDEX documents_by_day ON documents (books_id, received_on, id);
CREATE INDEX documents_by_file ON documents (books_id, sha256);
CALL fence_append_only('documents');

CREATE TABLE document_attachments (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    document_id uuid NOT NULL,
    proves uuid NOT NULL,
    PRIMARY KEY (books_id, record_id, document_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, document_id) REFERENCES documents (books_id, id),
    FOREIGN KEY (books_id, proves) REFERENCES records (books_id, id)
);
COMMENT ON TABLE document_attachments IS 'Which record a document proves; it counts while both the attachment and the proved record stand.';
COMMENT ON COLUMN document_attachments.proves IS 'The record that is proved; the attaching one itself where a purchase names its documents.';
CREATE INDEX document_attachments_by_document ON document_attachments (books_id, document_id);
CREATE INDEX document_attachments_by_record ON document_attachments (books_id, proves);
CALL fence_append_only('document_attachments');

-- Seen with the asker's own rights, so that the fence of the tables holds here too.
CREATE VIEW proved_records WITH (security_invoker = true) AS
    SELECT a.books_id, a.proves AS id, a.document_id FROM document_attachments a
    WHERE NOT EXISTS (SELECT FROM record_reversals v
                      WHERE v.books_id = a.books_id AND v.record_id IN (a.record_id, a.proves));
COMMENT ON VIEW proved_records IS 'What each document proves while the attachment and the proved record stand.';
GRANT SELECT ON proved_records TO ledgerboard_service;

-- An invoice that is not paid is no purchase yet; what proves an invoice proves its payment.
CREATE VIEW unproved_purchases WITH (security_invoker = true) AS
    SELECT r.books_id, r.id, r.date, r.text, r.party_id FROM records r
    WHERE r.word = 'purchases'
    AND EXISTS (SELECT FROM purchase_lines l WHERE l.books_id = r.books_id AND l.record_id = r.id)
    AND NOT EXISTS (SELECT FROM record_reversals v WHERE v.books_id = r.books_id AND v.record_id = r.id)
    AND NOT EXISTS (SELECT FROM proved_records p WHERE p.books_id = r.books_id AND p.id = r.id)
    AND NOT EXISTS (SELECT FROM record_links l JOIN proved_records p ON p.books_id = l.books_id AND p.id = l.depends_on
                    WHERE l.books_id = r.books_id AND l.record_id = r.id);
COMMENT ON VIEW unproved_purchases IS 'Purchases that stand and that no document proves.';
GRANT SELECT ON unproved_purchases TO ledgerboard_service;

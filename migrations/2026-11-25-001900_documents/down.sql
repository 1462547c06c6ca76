DROP VIEW unproved_purchases;
DROP VIEW proved_records;
DROP TABLE document_attachments;
DROP TABLE documents;
DROP TABLE document_files;

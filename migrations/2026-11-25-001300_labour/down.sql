DROP TABLE labour_entries;

DROP TABLE record_objects, budget_lines, episodes;

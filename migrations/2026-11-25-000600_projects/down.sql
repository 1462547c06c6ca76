DROP TABLE projects;

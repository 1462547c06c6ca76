DROP TABLE attributions, movements, sources;
DROP FUNCTION source_holds();

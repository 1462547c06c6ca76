DROP TABLE overhead_spreads, overhead_pool_records, overhead_pools;
DROP TABLE attributions, movements, sources;
DROP FUNCTION source_holds();

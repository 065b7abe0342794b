-- The tables of a batch's results for DuckDB, run where the folder aftermile-results lies. Other engines name the same
-- folders in their own way: a table a folder of aftermile-results/data, partitioned by kit, car and drive.
create or replace view drives as
  select * from read_parquet('aftermile-results/data/drives/*/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false);
create or replace view findings as
  select * from read_parquet('aftermile-results/data/findings/*/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false);
create or replace view questions as
  select * from read_parquet('aftermile-results/data/questions/*/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false);
create or replace view cells as
  select * from read_parquet('aftermile-results/data/cells/*/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false);
create or replace view modules as
  select * from read_parquet('aftermile-results/data/modules/*/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false);
create or replace view starts as
  select * from read_parquet('aftermile-results/data/starts/*/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false);
create or replace view brake_applications as
  select * from read_parquet('aftermile-results/data/brake_applications/*/*/*/*.parquet', hive_partitioning = true, hive_types_autocast = false);

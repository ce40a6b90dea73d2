-- keep
-- One row per delivered row, every cell as the text it came as. sha256: the content of raw.readings. Packed by zstd, cells take less than half of the room and of the time
-- that they take as DuckDB would pack them.
create table if not exists raw.rows (
  sha256 varchar not null,
  sheet varchar,
  row_number bigint not null,
  table_name varchar not null,
  cells json not null using compression zstd
);
comment on table raw.rows is 'One row per delivered row, cells as text by heading; append-only';

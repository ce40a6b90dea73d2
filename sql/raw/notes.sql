-- keep
-- What the reader read safely and still thought worth saying.
create table if not exists raw.notes (
  sha256 varchar not null,
  sheet varchar,
  table_name varchar not null,
  row_number bigint,
  column_name varchar,
  found varchar,
  what varchar not null,
  sentence varchar not null
);
comment on table raw.notes is 'What the reader noticed while reading; append-only';

-- keep
-- One row per table found in a file's content.
create table if not exists raw.sheets (
  sha256 varchar not null,
  sheet varchar,
  table_name varchar not null,
  heading_row integer not null,
  headings varchar[] not null,
  verbatim_headings varchar[] not null,
  decimal_commas boolean
);
comment on table raw.sheets is 'One row per table found in a file; append-only';

-- keep
-- One row per arrival of a file: a changed file arrives again, a removed one is withdrawn. Nothing is ever edited.
-- held_because: why it is no table as it stands; then none of its rows counts, and it arrives again once it can be read.
-- held_rows: its rows, where they can be counted.
-- only_sender_mends: nobody but its sender can make it a table, as where it is damaged.
create table if not exists raw.files (
  arrival bigint primary key,
  file varchar not null,
  delivery varchar not null,
  season integer not null,
  sha256 varchar not null,
  size_bytes bigint not null,
  withdrawn boolean not null,
  run_id varchar not null,
  held_because varchar,
  held_rows bigint,
  only_sender_mends boolean
);
comment on table raw.files is 'One row per arrival of a delivered file; append-only';

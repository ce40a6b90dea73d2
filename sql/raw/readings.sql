-- keep
-- One row per content of a file and way to read it, as headings.yml decides: by which name raw.sheets, raw.rows and raw.notes hold what was read.
-- words_sha256: of what headings.yml says of the reading, empty where it says nothing. content: the sha256 itself of what was read first,
-- and of any reading that comes to the same; else with words_sha256 after a colon.
create table if not exists raw.readings (
  sha256 varchar not null,
  words_sha256 varchar not null,
  content varchar not null
);
comment on table raw.readings is 'One row per content of a file and way to read it; append-only';

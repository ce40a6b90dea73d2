-- The headings the declared tables know; filled by the pipeline.
create table reference.known_headings (table_name varchar, heading varchar, is_pattern boolean);
comment on table reference.known_headings is 'One row per heading a delivered table may have';

-- The files of which a headings.yml confirms how they are read; filled by the pipeline.
create table reference.read_as (file varchar);
comment on table reference.read_as is 'One row per file whose reading is confirmed';

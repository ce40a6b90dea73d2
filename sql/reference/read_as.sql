-- The files of which a headings.yml says how they are read; filled by the pipeline. date_order: 'month first', 'day first'.
create table reference.read_as (file varchar, date_order varchar);
comment on table reference.read_as is 'One row per file whose reading is confirmed or whose dates are written month first or day first';

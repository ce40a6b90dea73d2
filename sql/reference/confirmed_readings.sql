-- One row per file whose reading the analyst has looked at and found right, in headings.yml; filled by the pipeline.
create table reference.confirmed_readings (
  file varchar, reading varchar
);
comment on table reference.confirmed_readings is 'One row per file whose reading was confirmed';

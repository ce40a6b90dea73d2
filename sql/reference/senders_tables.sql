-- What senders call our tables (headings.yml); filled by the pipeline.
create table reference.senders_tables (folder varchar, theirs varchar, ours varchar);
comment on table reference.senders_tables is 'One row per sheet or file name a sender uses for one of our tables';

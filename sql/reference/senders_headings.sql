-- What senders call our headings (headings.yml); filled by the pipeline.
create table reference.senders_headings (folder varchar, table_name varchar, theirs varchar, ours varchar);
comment on table reference.senders_headings is 'One row per heading a sender uses for one of ours';

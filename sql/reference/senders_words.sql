-- What senders call our words and codes (headings.yml); filled by the pipeline.
create table reference.senders_words (folder varchar, table_name varchar, heading varchar, theirs varchar, ours varchar);
comment on table reference.senders_words is 'One row per word a sender uses for one of ours, under one of our headings';

-- Which rows a correction is about: all its conditions hold; filled by the pipeline.
create table reference.correction_conditions (correction varchar, heading varchar, text varchar);
comment on table reference.correction_conditions is 'One row per condition of a correction';

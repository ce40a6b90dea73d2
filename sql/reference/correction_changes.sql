-- What a correction changes: a new text while the old one is there, or a move to another heading; filled by the pipeline.
create table reference.correction_changes (correction varchar, heading varchar, old varchar, new varchar, moved_to varchar);
comment on table reference.correction_changes is 'One row per cell change of a correction';

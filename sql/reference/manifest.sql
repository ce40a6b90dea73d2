-- What was received, from whom and when (manifest.csv of each season); filled by the pipeline.
create table reference.manifest (file varchar, sha256 varchar, sender varchar, received date);
comment on table reference.manifest is 'One row per line of the manifests';

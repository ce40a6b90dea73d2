-- The program's name, the units its reports speak and who may be named in them, from program.yml; filled by the pipeline.
create table reference.program (program varchar, display_units varchar, may_be_named varchar);
comment on table reference.program is 'One row: the program';

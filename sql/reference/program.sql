-- The program's name and the units its reports speak, from program.yml; filled by the pipeline.
create table reference.program (program varchar, display_units varchar);
comment on table reference.program is 'One row: the program';

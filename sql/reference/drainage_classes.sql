-- One row per known word; kept by hand in drainage_classes.csv beside this file.
create table reference.drainage_classes as
select * from read_csv(getvariable('sql_folder') || '/reference/drainage_classes.csv', header = true, all_varchar = true);
comment on table reference.drainage_classes is 'One row per known word';

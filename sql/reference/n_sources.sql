-- One row per known word; kept by hand in n_sources.csv beside this file.
create table reference.n_sources as
select * from read_csv(getvariable('sql_folder') || '/reference/n_sources.csv', header = true, all_varchar = true);
comment on table reference.n_sources is 'One row per known word';

-- One row per known word; kept by hand in n_products.csv beside this file.
create table reference.n_products as
select * from read_csv(getvariable('sql_folder') || '/reference/n_products.csv', header = true, all_varchar = true);
comment on table reference.n_products is 'One row per known word';

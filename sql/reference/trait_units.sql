-- One row per pair of delivered and stored unit of a trait; kept by hand in trait_units.csv beside this file.
create table reference.trait_units as
select delivered, stored, cast(factor as double) as factor
from read_csv(getvariable('sql_folder') || '/reference/trait_units.csv', header = true, all_varchar = true);
comment on table reference.trait_units is 'One row per unit a trait may come in';

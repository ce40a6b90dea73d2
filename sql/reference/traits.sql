-- One row per known trait; kept by hand in traits.csv beside this file.
create table reference.traits as
select word, unit, cast(hard_low as double) as hard_low, cast(hard_high as double) as hard_high, source
from read_csv(getvariable('sql_folder') || '/reference/traits.csv', header = true, all_varchar = true);
comment on table reference.traits is 'One row per trait, its stored unit and hard range';

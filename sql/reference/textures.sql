-- One row per surface texture; kept by hand in textures.csv beside this file.
create table reference.textures as
select word, cast(available_mm_per_m as double) as available_mm_per_m, source
from read_csv(getvariable('sql_folder') || '/reference/textures.csv', header = true, all_varchar = true);
comment on table reference.textures is 'One row per surface texture: water it holds for crops, mm in 1 m of soil';

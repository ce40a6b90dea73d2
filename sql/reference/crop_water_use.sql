-- One row per crop whose water use is known; kept by hand in crop_water_use.csv beside this file.
create table reference.crop_water_use as
select word as crop, columns(* exclude (word, source))::double, source
from read_csv(getvariable('sql_folder') || '/reference/crop_water_use.csv', header = true, all_varchar = true);
comment on table reference.crop_water_use is 'One row per crop: single crop coefficients of FAO-56, days of its stages, share of available water it takes unhindered';

-- What program.yml says was fixed beforehand, and on which day; filled by the pipeline. comparison_id is empty where it speaks of all.
create table reference.fixed_days (line integer, what varchar, fixed_on date, comparison_id varchar);
comment on table reference.fixed_days is 'One row per thing that program.yml fixes on a day';

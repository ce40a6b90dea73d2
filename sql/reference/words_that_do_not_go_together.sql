-- One row per two statements that cannot both be true of one treatment or application, with the reason and its source;
-- kept by hand in words_that_do_not_go_together.csv beside this file.
create table reference.words_that_do_not_go_together as
select * from read_csv(getvariable('sql_folder') || '/reference/words_that_do_not_go_together.csv', header = true, all_varchar = true);
comment on table reference.words_that_do_not_go_together is 'One row per two statements that cannot both be true';

-- The tables that version 0.1.0 kept between runs, as it left them after a report on the tests' tiny program.
create schema raw;
create schema estimates;
create table if not exists raw.files (
  arrival bigint primary key,
  file varchar not null,
  delivery varchar not null,
  season integer not null,
  sha256 varchar not null,
  size_bytes bigint not null,
  withdrawn boolean not null,
  run_id varchar not null
);
insert into raw.files values
  (1, 'seasons/2091/nitrogen_applications.csv', 'seasons/2091', 2091, '2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', 628, false, '20261128-181614-964246-2d1f22'),
  (2, 'seasons/2091/plots.csv', 'seasons/2091', 2091, '83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', 867, false, '20261128-181614-964246-2d1f22'),
  (3, 'seasons/2091/rain_history.csv', 'seasons/2091', 2091, 'bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', 900, false, '20261128-181614-964246-2d1f22'),
  (4, 'seasons/2091/sites.csv', 'seasons/2091', 2091, '12b348e2445d15efe5508535ab03645ddab7836a573558b4b7be428521a49915', 152, false, '20261128-181614-964246-2d1f22'),
  (5, 'seasons/2091/treatments.csv', 'seasons/2091', 2091, 'b68313dfdcc0b5dbe602478a409b24f45800e3165d9b2e451a8cdd38c9183715', 435, false, '20261128-181614-964246-2d1f22'),
  (6, 'seasons/2091/trials.csv', 'seasons/2091', 2091, 'f381e965b5f1b98054ca29642dd1e72f9d705a5609468a23d48d735e98937e31', 244, false, '20261128-181614-964246-2d1f22'),
  (7, 'seasons/2091/weather_daily.csv', 'seasons/2091', 2091, '4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', 240, false, '20261128-181614-964246-2d1f22'),
  (8, 'seasons/2092/nitrogen_applications.csv', 'seasons/2092', 2092, '5cf1ba36c0423762bd7346884788f307e73abc0a77ad460e0355e71a90bc2935', 358, false, '20261128-181614-964246-2d1f22'),
  (9, 'seasons/2092/plots.csv', 'seasons/2092', 2092, '31d9317e3beb09f31550fd4456e6e3e94e0c7acf0205f552834aff32f901384d', 499, false, '20261128-181614-964246-2d1f22'),
  (10, 'seasons/2092/treatments.csv', 'seasons/2092', 2092, 'f736eee4e4b30b452f27e0a3fd816c0299a45dcacc973db88359a351ac9a0c62', 264, false, '20261128-181614-964246-2d1f22'),
  (11, 'seasons/2092/trials.csv', 'seasons/2092', 2092, '813422d5586bbea7d763de0c0eede75da44b2f12d9146afd1e3c37bdfc4bc2b1', 164, false, '20261128-181614-964246-2d1f22'),
  (12, 'seasons/2092/weather_daily.csv', 'seasons/2092', 2092, '34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', 240, false, '20261128-181614-964246-2d1f22');
create table if not exists raw.rows (
  sha256 varchar not null,
  sheet varchar,
  row_number bigint not null,
  table_name varchar not null,
  cells json not null
);
insert into raw.rows values
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 2, 'nitrogen_applications', '{"trial_id":"2091-A-corn","treatment_code":"U-120","application":"at planting","product":"urea","product_n_pct":"46","n_rate_lb_ac":"120","placement":"broadcast","counts_toward":"treatment"}'),
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 3, 'nitrogen_applications', '{"trial_id":"2091-A-corn","treatment_code":"C-120","application":"at planting urea","product":"urea","product_n_pct":"46","n_rate_lb_ac":"60","placement":"broadcast","counts_toward":"treatment"}'),
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 4, 'nitrogen_applications', '{"trial_id":"2091-A-corn","treatment_code":"C-120","application":"at planting coated","product":"coated urea","product_n_pct":"44","n_rate_lb_ac":"60","placement":"broadcast","counts_toward":"treatment"}'),
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 5, 'nitrogen_applications', '{"trial_id":"2091-A-corn","treatment_code":"ALL","application":"starter","product":"starter","product_n_pct":"10","n_rate_lb_ac":"5","placement":"banded","counts_toward":"background"}'),
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 6, 'nitrogen_applications', '{"trial_id":"2091-B-cotton","treatment_code":"U-120","application":"at planting","product":"urea","product_n_pct":"46","n_rate_lb_ac":"120","placement":"broadcast","counts_toward":"treatment"}'),
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 7, 'nitrogen_applications', '{"trial_id":"2091-B-cotton","treatment_code":"C-120","application":"at planting urea","product":"urea","product_n_pct":"46","n_rate_lb_ac":"60","placement":"broadcast","counts_toward":"treatment"}'),
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 8, 'nitrogen_applications', '{"trial_id":"2091-B-cotton","treatment_code":"C-120","application":"at planting coated","product":"coated urea","product_n_pct":"44","n_rate_lb_ac":"60","placement":"broadcast","counts_toward":"treatment"}'),
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 9, 'nitrogen_applications', '{"trial_id":"2091-B-cotton","treatment_code":"ALL","application":"starter","product":"starter","product_n_pct":"10","n_rate_lb_ac":"5","placement":"banded","counts_toward":"background"}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 2, 'plots', '{"trial_id":"2091-A-corn","block":"1","plot":"101","treatment_code":"ZERO","harvest_weight_lb":"22.3","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 3, 'plots', '{"trial_id":"2091-A-corn","block":"1","plot":"102","treatment_code":"U-120","harvest_weight_lb":"41.3","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 4, 'plots', '{"trial_id":"2091-A-corn","block":"1","plot":"103","treatment_code":"C-120","harvest_weight_lb":"42.9","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 5, 'plots', '{"trial_id":"2091-A-corn","block":"2","plot":"201","treatment_code":"ZERO","harvest_weight_lb":"22.6","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 6, 'plots', '{"trial_id":"2091-A-corn","block":"2","plot":"202","treatment_code":"U-120","harvest_weight_lb":"41.6","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 7, 'plots', '{"trial_id":"2091-A-corn","block":"2","plot":"203","treatment_code":"C-120","harvest_weight_lb":"43.2","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 8, 'plots', '{"trial_id":"2091-B-cotton","block":"1","plot":"101","treatment_code":"ZERO","harvest_weight_lb":"9.3","moisture_pct":null,"gin_turnout_fraction":"0.392","harvest_length_ft":"40","harvest_width_ft":"6.333","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 9, 'plots', '{"trial_id":"2091-B-cotton","block":"1","plot":"102","treatment_code":"U-120","harvest_weight_lb":"17.1","moisture_pct":null,"gin_turnout_fraction":"0.392","harvest_length_ft":"40","harvest_width_ft":"6.333","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 10, 'plots', '{"trial_id":"2091-B-cotton","block":"1","plot":"103","treatment_code":"C-120","harvest_weight_lb":"17.9","moisture_pct":null,"gin_turnout_fraction":"0.392","harvest_length_ft":"40","harvest_width_ft":"6.333","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 11, 'plots', '{"trial_id":"2091-B-cotton","block":"2","plot":"201","treatment_code":"ZERO","harvest_weight_lb":"9.6","moisture_pct":null,"gin_turnout_fraction":"0.392","harvest_length_ft":"40","harvest_width_ft":"6.333","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 12, 'plots', '{"trial_id":"2091-B-cotton","block":"2","plot":"202","treatment_code":"U-120","harvest_weight_lb":"17.4","moisture_pct":null,"gin_turnout_fraction":"0.392","harvest_length_ft":"40","harvest_width_ft":"6.333","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 13, 'plots', '{"trial_id":"2091-B-cotton","block":"2","plot":"203","treatment_code":"C-120","harvest_weight_lb":"18.2","moisture_pct":null,"gin_turnout_fraction":"0.392","harvest_length_ft":"40","harvest_width_ft":"6.333","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 2, 'rain_history', '{"place":"Alder","date":"2071-05-01","rain_in":"0.4"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 3, 'rain_history', '{"place":"Alder","date":"2071-05-02","rain_in":"0.5"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 4, 'rain_history', '{"place":"Alder","date":"2071-05-03","rain_in":"0.6"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 5, 'rain_history', '{"place":"Alder","date":"2071-05-04","rain_in":"0.7"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 6, 'rain_history', '{"place":"Alder","date":"2071-05-05","rain_in":"0.8"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 7, 'rain_history', '{"place":"Alder","date":"2072-05-01","rain_in":"0.1"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 8, 'rain_history', '{"place":"Alder","date":"2072-05-02","rain_in":"0.2"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 9, 'rain_history', '{"place":"Alder","date":"2072-05-03","rain_in":"0.3"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 10, 'rain_history', '{"place":"Alder","date":"2072-05-04","rain_in":"0.4"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 11, 'rain_history', '{"place":"Alder","date":"2072-05-05","rain_in":"0.5"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 12, 'rain_history', '{"place":"Alder","date":"2073-05-01","rain_in":"0.2"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 13, 'rain_history', '{"place":"Alder","date":"2073-05-02","rain_in":"0.3"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 14, 'rain_history', '{"place":"Alder","date":"2073-05-03","rain_in":"0.4"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 15, 'rain_history', '{"place":"Alder","date":"2073-05-04","rain_in":"0.5"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 16, 'rain_history', '{"place":"Alder","date":"2073-05-05","rain_in":"0.6"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 17, 'rain_history', '{"place":"Alder","date":"2074-05-01","rain_in":"0.3"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 18, 'rain_history', '{"place":"Alder","date":"2074-05-02","rain_in":"0.4"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 19, 'rain_history', '{"place":"Alder","date":"2074-05-03","rain_in":"0.5"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 20, 'rain_history', '{"place":"Alder","date":"2074-05-04","rain_in":"0.6"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 21, 'rain_history', '{"place":"Alder","date":"2074-05-05","rain_in":"0.7"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 22, 'rain_history', '{"place":"Birch","date":"2071-05-01","rain_in":"0.4"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 23, 'rain_history', '{"place":"Birch","date":"2071-05-02","rain_in":"0.5"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 24, 'rain_history', '{"place":"Birch","date":"2071-05-03","rain_in":"0.6"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 25, 'rain_history', '{"place":"Birch","date":"2071-05-04","rain_in":"0.7"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 26, 'rain_history', '{"place":"Birch","date":"2071-05-05","rain_in":"0.8"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 27, 'rain_history', '{"place":"Birch","date":"2072-05-01","rain_in":"0.1"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 28, 'rain_history', '{"place":"Birch","date":"2072-05-02","rain_in":"0.2"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 29, 'rain_history', '{"place":"Birch","date":"2072-05-03","rain_in":"0.3"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 30, 'rain_history', '{"place":"Birch","date":"2072-05-04","rain_in":"0.4"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 31, 'rain_history', '{"place":"Birch","date":"2072-05-05","rain_in":"0.5"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 32, 'rain_history', '{"place":"Birch","date":"2073-05-01","rain_in":"0.2"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 33, 'rain_history', '{"place":"Birch","date":"2073-05-02","rain_in":"0.3"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 34, 'rain_history', '{"place":"Birch","date":"2073-05-03","rain_in":"0.4"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 35, 'rain_history', '{"place":"Birch","date":"2073-05-04","rain_in":"0.5"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 36, 'rain_history', '{"place":"Birch","date":"2073-05-05","rain_in":"0.6"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 37, 'rain_history', '{"place":"Birch","date":"2074-05-01","rain_in":"0.3"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 38, 'rain_history', '{"place":"Birch","date":"2074-05-02","rain_in":"0.4"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 39, 'rain_history', '{"place":"Birch","date":"2074-05-03","rain_in":"0.5"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 40, 'rain_history', '{"place":"Birch","date":"2074-05-04","rain_in":"0.6"}'),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 41, 'rain_history', '{"place":"Birch","date":"2074-05-05","rain_in":"0.7"}'),
  ('12b348e2445d15efe5508535ab03645ddab7836a573558b4b7be428521a49915', null, 2, 'sites', '{"site_id":"Alder Bench","place":"Alder","drainage_class":"Well drained","drainage_source":"on-site description"}'),
  ('12b348e2445d15efe5508535ab03645ddab7836a573558b4b7be428521a49915', null, 3, 'sites', '{"site_id":"Birch Flats","place":"Birch","drainage_class":"Poorly drained","drainage_source":"on-site description"}'),
  ('b68313dfdcc0b5dbe602478a409b24f45800e3165d9b2e451a8cdd38c9183715', null, 2, 'treatments', '{"trial_id":"2091-A-corn","treatment_code":"ZERO","n_source":"none","coated_n_fraction":null,"n_rate_lb_ac":"0","timing":"none","passes":"0","placement":"none","is_zero_n":"yes"}'),
  ('b68313dfdcc0b5dbe602478a409b24f45800e3165d9b2e451a8cdd38c9183715', null, 3, 'treatments', '{"trial_id":"2091-A-corn","treatment_code":"U-120","n_source":"urea","coated_n_fraction":null,"n_rate_lb_ac":"120","timing":"at planting","passes":"1","placement":"broadcast","is_zero_n":"no"}'),
  ('b68313dfdcc0b5dbe602478a409b24f45800e3165d9b2e451a8cdd38c9183715', null, 4, 'treatments', '{"trial_id":"2091-A-corn","treatment_code":"C-120","n_source":"coated blend","coated_n_fraction":"0.5","n_rate_lb_ac":"120","timing":"at planting","passes":"1","placement":"broadcast","is_zero_n":"no"}'),
  ('b68313dfdcc0b5dbe602478a409b24f45800e3165d9b2e451a8cdd38c9183715', null, 5, 'treatments', '{"trial_id":"2091-B-cotton","treatment_code":"ZERO","n_source":"none","coated_n_fraction":null,"n_rate_lb_ac":"0","timing":"none","passes":"0","placement":"none","is_zero_n":"yes"}'),
  ('b68313dfdcc0b5dbe602478a409b24f45800e3165d9b2e451a8cdd38c9183715', null, 6, 'treatments', '{"trial_id":"2091-B-cotton","treatment_code":"U-120","n_source":"urea","coated_n_fraction":null,"n_rate_lb_ac":"120","timing":"at planting","passes":"1","placement":"broadcast","is_zero_n":"no"}'),
  ('b68313dfdcc0b5dbe602478a409b24f45800e3165d9b2e451a8cdd38c9183715', null, 7, 'treatments', '{"trial_id":"2091-B-cotton","treatment_code":"C-120","n_source":"coated blend","coated_n_fraction":"0.5","n_rate_lb_ac":"120","timing":"at planting","passes":"1","placement":"broadcast","is_zero_n":"no"}'),
  ('f381e965b5f1b98054ca29642dd1e72f9d705a5609468a23d48d735e98937e31', null, 2, 'trials', '{"trial_id":"2091-A-corn","season":"2091","site_id":"Alder Bench","crop":"corn","design":"RCBD","planted":"2091-05-02","harvested":"2091-10-04","row_spacing_in":"30","became":"harvested","became_why":null}'),
  ('f381e965b5f1b98054ca29642dd1e72f9d705a5609468a23d48d735e98937e31', null, 3, 'trials', '{"trial_id":"2091-B-cotton","season":"2091","site_id":"Birch Flats","crop":"cotton","design":"RCBD","planted":"2091-05-02","harvested":"2091-10-04","row_spacing_in":"38","became":"harvested","became_why":null}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 2, 'weather_daily', '{"place":"Alder","date":"2091-05-01","rain_in":"0.4"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 3, 'weather_daily', '{"place":"Alder","date":"2091-05-02","rain_in":"0.5"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 4, 'weather_daily', '{"place":"Alder","date":"2091-05-03","rain_in":"0.6"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 5, 'weather_daily', '{"place":"Alder","date":"2091-05-04","rain_in":"0.7"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 6, 'weather_daily', '{"place":"Alder","date":"2091-05-05","rain_in":"0.8"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 7, 'weather_daily', '{"place":"Birch","date":"2091-05-01","rain_in":"0.4"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 8, 'weather_daily', '{"place":"Birch","date":"2091-05-02","rain_in":"0.5"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 9, 'weather_daily', '{"place":"Birch","date":"2091-05-03","rain_in":"0.6"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 10, 'weather_daily', '{"place":"Birch","date":"2091-05-04","rain_in":"0.7"}'),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 11, 'weather_daily', '{"place":"Birch","date":"2091-05-05","rain_in":"0.8"}'),
  ('5cf1ba36c0423762bd7346884788f307e73abc0a77ad460e0355e71a90bc2935', null, 2, 'nitrogen_applications', '{"trial_id":"2092-A-corn","treatment_code":"U-120","application":"at planting","product":"urea","product_n_pct":"46","n_rate_lb_ac":"120","placement":"broadcast","counts_toward":"treatment"}'),
  ('5cf1ba36c0423762bd7346884788f307e73abc0a77ad460e0355e71a90bc2935', null, 3, 'nitrogen_applications', '{"trial_id":"2092-A-corn","treatment_code":"C-120","application":"at planting urea","product":"urea","product_n_pct":"46","n_rate_lb_ac":"60","placement":"broadcast","counts_toward":"treatment"}'),
  ('5cf1ba36c0423762bd7346884788f307e73abc0a77ad460e0355e71a90bc2935', null, 4, 'nitrogen_applications', '{"trial_id":"2092-A-corn","treatment_code":"C-120","application":"at planting coated","product":"coated urea","product_n_pct":"44","n_rate_lb_ac":"60","placement":"broadcast","counts_toward":"treatment"}'),
  ('5cf1ba36c0423762bd7346884788f307e73abc0a77ad460e0355e71a90bc2935', null, 5, 'nitrogen_applications', '{"trial_id":"2092-A-corn","treatment_code":"ALL","application":"starter","product":"starter","product_n_pct":"10","n_rate_lb_ac":"5","placement":"banded","counts_toward":"background"}'),
  ('31d9317e3beb09f31550fd4456e6e3e94e0c7acf0205f552834aff32f901384d', null, 2, 'plots', '{"trial_id":"2092-A-corn","block":"1","plot":"101","treatment_code":"ZERO","harvest_weight_lb":"21.3","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('31d9317e3beb09f31550fd4456e6e3e94e0c7acf0205f552834aff32f901384d', null, 3, 'plots', '{"trial_id":"2092-A-corn","block":"1","plot":"102","treatment_code":"U-120","harvest_weight_lb":"40.5","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('31d9317e3beb09f31550fd4456e6e3e94e0c7acf0205f552834aff32f901384d', null, 4, 'plots', '{"trial_id":"2092-A-corn","block":"1","plot":"103","treatment_code":"C-120","harvest_weight_lb":"41.8","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('31d9317e3beb09f31550fd4456e6e3e94e0c7acf0205f552834aff32f901384d', null, 5, 'plots', '{"trial_id":"2092-A-corn","block":"2","plot":"201","treatment_code":"ZERO","harvest_weight_lb":"21.6","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('31d9317e3beb09f31550fd4456e6e3e94e0c7acf0205f552834aff32f901384d', null, 6, 'plots', '{"trial_id":"2092-A-corn","block":"2","plot":"202","treatment_code":"U-120","harvest_weight_lb":"40.8","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('31d9317e3beb09f31550fd4456e6e3e94e0c7acf0205f552834aff32f901384d', null, 7, 'plots', '{"trial_id":"2092-A-corn","block":"2","plot":"203","treatment_code":"C-120","harvest_weight_lb":"42.1","moisture_pct":"18.2","gin_turnout_fraction":null,"harvest_length_ft":"30","harvest_width_ft":"5","rows_harvested":"2","became":"harvested","cause":null,"caused_by_treatment":null}'),
  ('f736eee4e4b30b452f27e0a3fd816c0299a45dcacc973db88359a351ac9a0c62', null, 2, 'treatments', '{"trial_id":"2092-A-corn","treatment_code":"ZERO","n_source":"none","coated_n_fraction":null,"n_rate_lb_ac":"0","timing":"none","passes":"0","placement":"none","is_zero_n":"yes"}'),
  ('f736eee4e4b30b452f27e0a3fd816c0299a45dcacc973db88359a351ac9a0c62', null, 3, 'treatments', '{"trial_id":"2092-A-corn","treatment_code":"U-120","n_source":"urea","coated_n_fraction":null,"n_rate_lb_ac":"120","timing":"at planting","passes":"1","placement":"broadcast","is_zero_n":"no"}'),
  ('f736eee4e4b30b452f27e0a3fd816c0299a45dcacc973db88359a351ac9a0c62', null, 4, 'treatments', '{"trial_id":"2092-A-corn","treatment_code":"C-120","n_source":"coated blend","coated_n_fraction":"0.5","n_rate_lb_ac":"120","timing":"at planting","passes":"1","placement":"broadcast","is_zero_n":"no"}'),
  ('813422d5586bbea7d763de0c0eede75da44b2f12d9146afd1e3c37bdfc4bc2b1', null, 2, 'trials', '{"trial_id":"2092-A-corn","season":"2092","site_id":"Alder Bench","crop":"corn","design":"RCBD","planted":"2092-05-02","harvested":"2092-10-04","row_spacing_in":"30","became":"harvested","became_why":null}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 2, 'weather_daily', '{"place":"Alder","date":"2092-05-01","rain_in":"0.1"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 3, 'weather_daily', '{"place":"Alder","date":"2092-05-02","rain_in":"0.2"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 4, 'weather_daily', '{"place":"Alder","date":"2092-05-03","rain_in":"0.3"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 5, 'weather_daily', '{"place":"Alder","date":"2092-05-04","rain_in":"0.4"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 6, 'weather_daily', '{"place":"Alder","date":"2092-05-05","rain_in":"0.5"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 7, 'weather_daily', '{"place":"Birch","date":"2092-05-01","rain_in":"0.1"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 8, 'weather_daily', '{"place":"Birch","date":"2092-05-02","rain_in":"0.2"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 9, 'weather_daily', '{"place":"Birch","date":"2092-05-03","rain_in":"0.3"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 10, 'weather_daily', '{"place":"Birch","date":"2092-05-04","rain_in":"0.4"}'),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 11, 'weather_daily', '{"place":"Birch","date":"2092-05-05","rain_in":"0.5"}');
create table if not exists raw.notes (
  sha256 varchar not null,
  sheet varchar,
  table_name varchar not null,
  row_number bigint,
  column_name varchar,
  found varchar,
  what varchar not null,
  sentence varchar not null
);
create table if not exists raw.sheets (
  sha256 varchar not null,
  sheet varchar,
  table_name varchar not null,
  heading_row integer not null,
  headings varchar[] not null,
  verbatim_headings varchar[] not null
);
insert into raw.sheets values
  ('2c7aa2b63474f49c66dd8fdcff4e27fcfd6a6c2c19763f072eed71bc5f22c9c7', null, 'nitrogen_applications', 1, ['trial_id', 'treatment_code', 'application', 'product', 'product_n_pct', 'n_rate_lb_ac', 'placement', 'counts_toward'], ['trial_id', 'treatment_code', 'application', 'product', 'product_n_pct', 'n_rate_lb_ac', 'placement', 'counts_toward']),
  ('83655d5a9f8e910490a11e01454dd3b6a872075389bfd460c3cbe9a51926cef6', null, 'plots', 1, ['trial_id', 'block', 'plot', 'treatment_code', 'harvest_weight_lb', 'moisture_pct', 'gin_turnout_fraction', 'harvest_length_ft', 'harvest_width_ft', 'rows_harvested', 'became', 'cause', 'caused_by_treatment'], ['trial_id', 'block', 'plot', 'treatment_code', 'harvest_weight_lb', 'moisture_pct', 'gin_turnout_fraction', 'harvest_length_ft', 'harvest_width_ft', 'rows_harvested', 'became', 'cause', 'caused_by_treatment']),
  ('bc0376861ab00c73d32c4e5848dae20c927bb527633feec3086e074f24ac5c23', null, 'rain_history', 1, ['place', 'date', 'rain_in'], ['place', 'date', 'rain_in']),
  ('12b348e2445d15efe5508535ab03645ddab7836a573558b4b7be428521a49915', null, 'sites', 1, ['site_id', 'place', 'drainage_class', 'drainage_source'], ['site_id', 'place', 'drainage_class', 'drainage_source']),
  ('b68313dfdcc0b5dbe602478a409b24f45800e3165d9b2e451a8cdd38c9183715', null, 'treatments', 1, ['trial_id', 'treatment_code', 'n_source', 'coated_n_fraction', 'n_rate_lb_ac', 'timing', 'passes', 'placement', 'is_zero_n'], ['trial_id', 'treatment_code', 'n_source', 'coated_n_fraction', 'n_rate_lb_ac', 'timing', 'passes', 'placement', 'is_zero_n']),
  ('f381e965b5f1b98054ca29642dd1e72f9d705a5609468a23d48d735e98937e31', null, 'trials', 1, ['trial_id', 'season', 'site_id', 'crop', 'design', 'planted', 'harvested', 'row_spacing_in', 'became', 'became_why'], ['trial_id', 'season', 'site_id', 'crop', 'design', 'planted', 'harvested', 'row_spacing_in', 'became', 'became_why']),
  ('4f984378f60ba3ca37fb46e0ab97b1851f470bad0da06680ee258d6b0749803a', null, 'weather_daily', 1, ['place', 'date', 'rain_in'], ['place', 'date', 'rain_in']),
  ('5cf1ba36c0423762bd7346884788f307e73abc0a77ad460e0355e71a90bc2935', null, 'nitrogen_applications', 1, ['trial_id', 'treatment_code', 'application', 'product', 'product_n_pct', 'n_rate_lb_ac', 'placement', 'counts_toward'], ['trial_id', 'treatment_code', 'application', 'product', 'product_n_pct', 'n_rate_lb_ac', 'placement', 'counts_toward']),
  ('31d9317e3beb09f31550fd4456e6e3e94e0c7acf0205f552834aff32f901384d', null, 'plots', 1, ['trial_id', 'block', 'plot', 'treatment_code', 'harvest_weight_lb', 'moisture_pct', 'gin_turnout_fraction', 'harvest_length_ft', 'harvest_width_ft', 'rows_harvested', 'became', 'cause', 'caused_by_treatment'], ['trial_id', 'block', 'plot', 'treatment_code', 'harvest_weight_lb', 'moisture_pct', 'gin_turnout_fraction', 'harvest_length_ft', 'harvest_width_ft', 'rows_harvested', 'became', 'cause', 'caused_by_treatment']),
  ('f736eee4e4b30b452f27e0a3fd816c0299a45dcacc973db88359a351ac9a0c62', null, 'treatments', 1, ['trial_id', 'treatment_code', 'n_source', 'coated_n_fraction', 'n_rate_lb_ac', 'timing', 'passes', 'placement', 'is_zero_n'], ['trial_id', 'treatment_code', 'n_source', 'coated_n_fraction', 'n_rate_lb_ac', 'timing', 'passes', 'placement', 'is_zero_n']),
  ('813422d5586bbea7d763de0c0eede75da44b2f12d9146afd1e3c37bdfc4bc2b1', null, 'trials', 1, ['trial_id', 'season', 'site_id', 'crop', 'design', 'planted', 'harvested', 'row_spacing_in', 'became', 'became_why'], ['trial_id', 'season', 'site_id', 'crop', 'design', 'planted', 'harvested', 'row_spacing_in', 'became', 'became_why']),
  ('34c56e62eddceba3c7d1864fc015152b44e0bb396fdb3abbbdd9d840f7eff6a7', null, 'weather_daily', 1, ['place', 'date', 'rain_in'], ['place', 'date', 'rain_in']);
create table if not exists estimates.runs (
  run_id varchar primary key, started timestamp, command varchar, code_commit varchar, lock_sha256 varchar,
  python varchar, packages varchar, r_versions varchar, settings_sha256 varchar, inputs_sha256 varchar, deciding_texts varchar
);
insert into estimates.runs values
  ('20261128-181614-964246-2d1f22', '2026-11-28 18:16:14.964246', 'report', '2b58da9c8a4d', '8fb90758ddc47b0ade1b63c11a6d96da60fe5ad856c20ccad91f27240109300c', '3.11.7', '{"duckdb": "2.0.1", "pandas": "2.3.3", "polars": "1.44.2", "pymer4": "0.9.2", "rpy2": "3.5.17", "statsmodels": "0.15.0", "scipy": "1.17.1", "numpy": "2.4.6", "plotnine": "0.15.9"}', '{"R": "4.2.2", "lme4": "1.1.31", "lmerTest": "3.1.3", "pymer4": "0.9.2"}', '2d1f22829e18b26584bafc5542f7341b0afbcd657b713e0c4883d1d0208959a3', '3ebc61388d1bb0275d877ee1b8a1f0e858f8c8525cd0102dce9bfc2c85a6c563', '{"program.yml": "program: Tiny trials\nrainfall:\n  reference: {first_year: 2071, last_year: 2074}\n  windows:\n    corn: {first_day: 05-01, last_day: 05-05}\n    cotton: {first_day: 05-01, last_day: 05-05}\n  fewest_reference_years: 3\n  fixed_on: 2090-11-15\ncomparisons:\n  - id: corn-blend-vs-urea\n    says: half-coated blend against urea, both at planting\n    crop: corn\n    target: seasons tested\n    treatment: {n_source: coated blend}\n    comparator: {n_source: urea}\n    match: same N rate\n    rates_lb_ac: {120: 1}\n    may_differ: [n_source, coated_n_fraction]\n    declared: 2090-11-15\n"}');
create table if not exists estimates.run_headlines (
  run_id varchar, comparison_id varchar, target varchar, estimate double, conf_low double, conf_high double,
  n_site_years integer, n_seasons integer, method varchar, unit varchar
);
insert into estimates.run_headlines values
  ('20261128-181614-964246-2d1f22', 'corn-blend-vs-urea', 'seasons tested', null, null, null, 2, 2, 'plain mean', 'kg/ha'),
  ('20261128-181614-964246-2d1f22', 'corn-blend-vs-urea', 'seasons to come', null, null, null, 2, 2, 'plain mean', 'kg/ha');
create table if not exists estimates.run_changes (
  run_id varchar, comparison_id varchar, target varchar, position integer, cause varchar,
  before double, after double, n_before integer, n_after integer
);
alter table estimates.run_changes add column if not exists conf_low_before double;
alter table estimates.run_changes add column if not exists conf_high_before double;
alter table estimates.run_changes add column if not exists conf_low_after double;
alter table estimates.run_changes add column if not exists conf_high_after double;
create table if not exists estimates.calibration (
  inputs_sha256 varchar, comparison_id varchar, truth varchar, target varchar, method varchar, n_programs integer,
  coverage double, coverage_mc_error double, mean_width double, width_mc_error double,
  n_site_years integer, n_seasons integer, verdict varchar, seed integer
);

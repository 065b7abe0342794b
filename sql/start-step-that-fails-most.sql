-- Which start step fails most? Attempts whose first failed step it was, of all attempts, and on how many cars.
select
  first_failed as step,
  count(*) as attempts,
  100.0 * count(*) / (select count(*) from starts) as percent_of_attempts,
  count(distinct car) as cars
from starts
where first_failed is not null
group by first_failed
order by attempts desc, step

// While long work is under way the page is loaded again every two seconds; its link does the same by hand.
setTimeout(() => location.replace(location.pathname), 2000);

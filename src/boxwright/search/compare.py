def near_misses(*a): return ()
def routes(*a): return ()
